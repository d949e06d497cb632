package main

import (
	"fmt"
	"os"
	"runtime"
	"time"

	"lentic/cmd/lentic/config"
	"lentic/cmd/lentic/daemon"
	"lentic/collector/aquarium"
)

// The commands in this file are thin: each names an operation of the daemon
// and its arguments. What takes work has a file of its own.

type reloadCommand struct{ configured }

func (c *reloadCommand) Run(b *base) error {
	return daemon.Reload(b.ctx, c.Config, os.Stdout)
}

type visitCommand struct {
	Start visitStart `cmd:"" help:"The visit begins now."`
	End   visitEnd   `cmd:"" help:"The visit is over."`
}

type visitStart struct {
	configured
	place
	For  time.Duration `default:"2h" help:"It ends by itself after this."`
	Note string        `help:"What is being done."`
}

func (c *visitStart) Run(b *base) error {
	return c.call(b, "visit-start", daemon.VisitArgs{Site: c.Site, Tank: c.Tank, For: c.For, Note: c.Note}, nil, os.Stdout)
}

type visitEnd struct {
	configured
	place
	Note string `help:"What was done."`
}

func (c *visitEnd) Run(b *base) error {
	return c.call(b, "visit-end", daemon.VisitArgs{Site: c.Site, Tank: c.Tank, Note: c.Note}, nil, os.Stdout)
}

type handTestCommand struct {
	configured
	place
	KH float64   `required:"" name:"kh" help:"Alkalinity in dKH."`
	At time.Time `help:"When it was measured (RFC 3339); default: now." format:"2006-01-02T15:04:05Z07:00"`
}

func (c *handTestCommand) Run(b *base) error {
	return c.call(b, "hand-test", daemon.HandTestArgs{Site: c.Site, Tank: c.Tank, KH: c.KH, At: instant(c.At)}, nil, os.Stdout)
}

type servicedCommand struct {
	configured
	place
	At   time.Time `help:"When the tank was serviced (RFC 3339); default: now." format:"2006-01-02T15:04:05Z07:00"`
	Note string    `help:"What was done."`
}

func (c *servicedCommand) Run(b *base) error {
	return c.call(b, "serviced", daemon.ServicedArgs{Site: c.Site, Tank: c.Tank, At: instant(c.At), Note: c.Note}, nil, os.Stdout)
}

func instant(t time.Time) aquarium.Instant {
	if t.IsZero() {
		return 0
	}
	return aquarium.At(t)
}

type refusedCommand struct{ configured }

func (c *refusedCommand) Run(b *base) error {
	return c.call(b, "refused", struct{}{}, nil, os.Stdout)
}

type releaseCommand struct {
	configured
	Site    aquarium.SiteID    `help:"Only readings of this site."`
	Gateway aquarium.GatewayID `required:"" help:"The gateway whose clock was wrong."`
	Offset  time.Duration      `required:"" help:"Added to each time it claimed, as 56h12m."`
}

func (c *releaseCommand) Run(b *base) error {
	return c.call(b, "release", daemon.ReleaseArgs{Site: c.Site, Gateway: c.Gateway, Offset: c.Offset}, nil, os.Stdout)
}

type testTextCommand struct {
	configured
	To aquarium.PersonID `required:"" help:"Who is to get it: a person's id."`
}

func (c *testTextCommand) Run(b *base) error {
	return c.call(b, "test-text", daemon.TestTextArgs{To: c.To}, nil, os.Stdout)
}

type exportCommand struct {
	configured
	place
	Sensor    aquarium.SensorID `help:"Only this sensor."`
	From      string            `required:"" help:"First time (RFC 3339 or a date)."`
	To        string            `required:"" help:"First time no longer wanted."`
	Quality   bool              `help:"Add the column quality: whether a reading is good, and if not, why it is not judged. The rows are then in the order of their times."`
	Corrected bool              `help:"Give pH with the drift that calibrations found spread back over the time in which it grew."`
}

func (c *exportCommand) Run(b *base) error {
	from, to, err := between(c.From, c.To)
	if err != nil {
		return err
	}
	return c.call(b, "export", daemon.ExportArgs{Site: c.Site, Tank: c.Tank, Sensor: c.Sensor,
		From: from, To: to, Quality: c.Quality, Corrected: c.Corrected}, nil, os.Stdout)
}

// between reads --from and --to.
func between(from, to string) (a, b aquarium.Instant, err error) {
	if a, err = config.ParseTime(from); err != nil {
		return 0, 0, daemon.UsageError("--from: %v", err)
	}
	if b, err = config.ParseTime(to); err != nil {
		return 0, 0, daemon.UsageError("--to: %v", err)
	}
	return a, b, nil
}

type versionCommand struct{}

func (versionCommand) Run(*base) error {
	fmt.Printf("lentic %s %s/%s %s\n", version, runtime.GOOS, runtime.GOARCH, runtime.Version())
	return nil
}
