package main

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"time"

	"lentic/cmd/lentic/config"
	"lentic/cmd/lentic/daemon"
	"lentic/cmd/lentic/tape"
	"lentic/collector/aquarium"
	"lentic/collector/wire"
)

type backtestCommand struct {
	configured
	Readings string `placeholder:"FILE" help:"Readings as CSV (time,site,tank,sensor,value; .gz works too); without it the stored ones."`
	Visits   string `placeholder:"FILE" help:"Visits as CSV (site,tank,from,to)."`
	From     string `help:"Over stored readings: first time judged."`
	To       string `help:"Over stored readings: last time judged."`
	JSON     bool   `name:"json" help:"One JSON object a line."`
}

func (c *backtestCommand) Run(b *base) error {
	if c.Readings == "" {
		return c.overStored(b)
	}
	if c.From != "" || c.To != "" {
		return daemon.UsageError("--from and --to are for stored readings, not beside --readings")
	}
	cfg, err := c.load()
	if err != nil {
		return err
	}
	journal, err := readVisits(c.Visits, cfg)
	if err != nil {
		return err
	}
	p := newProgress()
	defer p.clear()
	t := tape.New()
	defer t.Close()
	if err := readTape(t, c.Readings, cfg, p); err != nil {
		return err
	}
	lines := judge(b.ctx, t, cfg, journal, p)
	p.clear()
	if err := t.Err(); err != nil {
		return err
	}
	if b.ctx.Err() != nil {
		return errors.New("interrupted: the readings were not judged to their end")
	}
	return daemon.WriteLines(os.Stdout, lines, c.JSON)
}

// judge runs the live detection over a tape, site by site.
func judge(ctx context.Context, t *tape.Tape, cfg *config.Config, journal []aquarium.Entry, p *progress) (lines []daemon.Line) {
	next, stop := iter.Pull(t.Sorted())
	defer stop()
	s, ok := next()
	for ok && ctx.Err() == nil {
		site := cfg.Site(s.Sensor.Site)
		at := t.Span(site.ID)
		what, all := "judging "+string(site.ID), float64(max(1, at.Last-at.First))
		samples := func(yield func(aquarium.Sample) bool) {
			for ; ok && s.Sensor.Site == site.ID && ctx.Err() == nil; s, ok = next() {
				p.show(what, float64(s.At-at.First)/all)
				if !yield(s) {
					return
				}
			}
		}
		// A tick past the last reading lets what it says be judged.
		lines = append(lines, daemon.Backtest(*site, samples, journal, at.First.Floor(aquarium.Step).Add(-aquarium.Step), at.Last.Ceil(aquarium.Step))...)
		for ok && s.Sensor.Site == site.ID {
			s, ok = next()
		}
	}
	return lines
}

func (c *backtestCommand) overStored(b *base) error {
	if c.Visits != "" {
		return daemon.UsageError("--visits goes with --readings: over stored readings the journal's own visits are applied")
	}
	if c.From == "" || c.To == "" {
		return daemon.UsageError("want --readings FILE, or --from and --to")
	}
	from, to, err := between(c.From, c.To)
	if err != nil {
		return err
	}
	out, stop := newProgress().during("judging the stored readings", os.Stdout)
	defer stop()
	return c.call(b, "backtest", daemon.BacktestArgs{From: from, To: to, JSON: c.JSON}, nil, out)
}

// readTape reads recorded samples. A bad row is told with its line and costs
// nothing else.
func readTape(t *tape.Tape, path string, cfg *config.Config, p *progress) error {
	in, err := openRecording(path, "reading", p)
	if err != nil {
		return err
	}
	defer in.Close()
	strangers := map[aquarium.SensorKey]bool{}
	bad := func(line int, err error) error {
		p.clear()
		fmt.Fprintf(os.Stderr, "%s:%d: %v\n", path, line, err)
		return nil
	}
	err = wire.ReadCSV(in, func(line int, s aquarium.Sample) error {
		sensor, err := daemon.FindSensor(cfg, s.Sensor)
		if err != nil {
			if !strangers[s.Sensor] {
				strangers[s.Sensor] = true
				return bad(line, fmt.Errorf("%w (its other rows are left out too)", err))
			}
			return nil
		}
		if s.Quality == aquarium.Good && !sensor.Quantity.Possible(s.Value) {
			s.Quality = aquarium.OutOfRange
		}
		return t.Add(s)
	}, bad)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return nil
}

// readVisits reads site,tank,from,to with a header line; an empty path is no
// visits. A visit that cannot be meant is an error: left out, it would change
// what is found.
func readVisits(path string, cfg *config.Config) ([]aquarium.Entry, error) {
	if path == "" {
		return nil, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	in := csv.NewReader(f)
	in.FieldsPerRecord = 4
	var visits []aquarium.Entry
	for n := 0; ; n++ {
		row, err := in.Read()
		if errors.Is(err, io.EOF) {
			return visits, nil
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		if n == 0 && row[0] == "site" {
			continue
		}
		line, _ := in.FieldPos(0)
		from, err1 := time.Parse(time.RFC3339, row[2])
		to, err2 := time.Parse(time.RFC3339, row[3])
		if err := errors.Join(err1, err2); err != nil {
			return nil, fmt.Errorf("%s:%d: want site,tank,from,to with times as 2031-03-02T02:14:30Z: %w", path, line, err)
		}
		e := aquarium.Entry{ID: fmt.Sprintf("visit-%d", line), Kind: aquarium.Visit,
			Site: aquarium.SiteID(row[0]), Tank: aquarium.TankID(row[1]), At: aquarium.At(from), Until: aquarium.At(to)}
		if s := cfg.Site(e.Site); s == nil || s.Tank(e.Tank) == nil {
			return nil, fmt.Errorf("%s:%d: %w: %s/%s", path, line, aquarium.ErrUnknownTank, e.Site, e.Tank)
		}
		if e.At >= e.Until {
			return nil, fmt.Errorf("%s:%d: the visit ends %s, before it begins", path, line, e.Until)
		}
		visits = append(visits, e)
	}
}
