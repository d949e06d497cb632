package daemon

import (
	"context"
	"encoding/json"
	"fmt"
	"io"

	"lentic/cmd/lentic/config"
	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/collector/wire"
)

// ImportArgs say how readings come in; the readings themselves are what the
// operation reads.
type ImportArgs struct {
	Name    string // of the file, for messages
	Replace bool   // the value given stands in the place of one that is there
}

// importBatch is how many rows are handed on at a time.
const importBatch = 4096

// badShown is how many bad rows are told one by one; the rest are counted.
const badShown = 50

// imports takes a history in as readings, past the log. It wakes nobody: what
// is long past is for charts and backtests.
func imports(ctx context.Context, s *services, args []byte, in io.Reader, out io.Writer) error {
	var a ImportArgs
	if err := json.Unmarshal(args, &a); err != nil {
		return UsageError("arguments: %v", err)
	}
	im := importing{a: a, cfg: s.cfg.Load(), now: aquarium.At(s.now())}
	tally, err := s.store.Import(a.Replace, func(add func(aquarium.Batch) error) error {
		im.add = add
		row := func(line int, v aquarium.Sample) error {
			if im.rows++; im.rows%importBatch == 0 && ctx.Err() != nil {
				return ctx.Err()
			}
			return im.row(line, v)
		}
		if err := wire.ReadCSV(in, row, im.bad); err != nil {
			return err
		}
		return im.flush()
	})
	// What went wrong is said at the end, for the rows are still coming in
	// over the line that the answer goes back on.
	for _, line := range im.shown {
		fmt.Fprintln(out, line)
	}
	if hidden := im.badRows - len(im.shown); hidden > 0 {
		fmt.Fprintf(out, "... and %d more rows that could not be taken.\n", hidden)
	}
	if err != nil {
		return fmt.Errorf("%s: %w: what was taken stays; importing the file again does no harm and goes on", a.Name, err)
	}
	_, err = fmt.Fprintf(out, "%d rows: %d new, %d were there, %d differ from what was there (%s), %d could not be taken.\n",
		im.rows+im.malformed, tally.Fresh, tally.Repeats, tally.Conflicts, im.fate(), im.badRows)
	return err
}

// importing is one import on its way.
type importing struct {
	a         ImportArgs
	cfg       *config.Config
	now       aquarium.Instant
	add       func(aquarium.Batch) error
	batch     []aquarium.Reading
	rows      int // that could be read, and malformed those that could not
	malformed int
	badRows   int
	shown     []string
	last      target
	targets   map[aquarium.SensorKey]target
}

// target is the sensor that rows are for.
type target struct {
	key    aquarium.SensorKey
	sensor aquarium.Sensor
	err    error
}

func (im *importing) fate() string {
	if im.a.Replace {
		return "now replaced"
	}
	return "which stands; --replace would change it"
}

func (im *importing) row(line int, v aquarium.Sample) error {
	if v.Sensor != im.last.key {
		im.last = im.target(v.Sensor)
	}
	err := im.last.err
	var r aquarium.Reading
	if err == nil {
		r, err = measure.Received(im.last.sensor, v)
	}
	if err == nil && (v.At < aquarium.Earliest || v.At > im.now.Add(aquarium.Ahead)) {
		err = fmt.Errorf("time %s: want %s to now", v.At, aquarium.Earliest)
	}
	if err != nil {
		im.note(line, err)
		return nil
	}
	if im.batch = append(im.batch, r); len(im.batch) < importBatch {
		return nil
	}
	return im.flush()
}

func (im *importing) flush() error {
	err := im.add(aquarium.Batch{Readings: im.batch, Arrived: im.now})
	im.batch = im.batch[:0]
	return err
}

func (im *importing) bad(line int, err error) error {
	im.malformed++
	im.note(line, err)
	return nil
}

func (im *importing) note(line int, err error) {
	if im.badRows++; len(im.shown) < badShown {
		im.shown = append(im.shown, fmt.Sprintf("%s:%d: %v", im.a.Name, line, err))
	}
}

// target looks a sensor up once.
func (im *importing) target(k aquarium.SensorKey) target {
	if t, ok := im.targets[k]; ok {
		return t
	}
	t := target{key: k}
	t.sensor, t.err = FindSensor(im.cfg, k)
	if im.targets == nil {
		im.targets = map[aquarium.SensorKey]target{}
	}
	im.targets[k] = t
	return t
}

// FindSensor is the configured sensor of that name. What a gateway says of
// itself is a number.
func FindSensor(cfg *config.Config, k aquarium.SensorKey) (aquarium.Sensor, error) {
	site := cfg.Site(k.Site)
	if site == nil {
		return aquarium.Sensor{}, fmt.Errorf("site %q: %w", k.Site, aquarium.ErrUnknownSite)
	}
	if k.Tank == aquarium.SiteWide {
		return aquarium.Sensor{ID: k.Sensor, Quantity: aquarium.Number}, nil
	}
	tank := site.Tank(k.Tank)
	if tank == nil {
		return aquarium.Sensor{}, fmt.Errorf("tank %q: %w", k.TankKey(), aquarium.ErrUnknownTank)
	}
	sensor := tank.Sensor(k.Sensor)
	if sensor == nil {
		return aquarium.Sensor{}, fmt.Errorf("sensor %q: %w", k, aquarium.ErrUnknownSensor)
	}
	return *sensor, nil
}
