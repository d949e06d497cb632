package daemon

import (
	"context"
	"encoding/json"
	"errors"
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
const importBatch = 1024

// importAhead is how many batches may have been read and not stored.
const importAhead = 8

// badShown is how many bad rows are told one by one; the rest are counted.
const badShown = 50

// imports takes a history in as readings, past the log. It wakes nobody: what
// is long past is for charts, for backtests and to know a tank by. Rows are read by one goroutine and
// stored by another, and neither waits for the other until it is some batches
// ahead.
func imports(ctx context.Context, s *services, args []byte, in io.Reader, out io.Writer) error {
	var a ImportArgs
	if err := json.Unmarshal(args, &a); err != nil {
		return UsageError("arguments: %v", err)
	}
	im := importing{
		a: a, cfg: s.cfg.Load(), until: aquarium.At(s.now()).Add(aquarium.Ahead), last: &target{}, targets: map[aquarium.SensorKey]*target{},
		full: make(chan []aquarium.Reading, importAhead), empty: make(chan []aquarium.Reading, importAhead+2), stop: make(chan struct{}),
	}
	read := make(chan error, 1)
	go func() { read <- im.read(ctx, in) }()
	tally, err := s.store.Import(a.Replace, func(add func(aquarium.Batch) error) error {
		for rs := range im.full {
			if err := add(aquarium.Batch{Readings: rs}); err != nil {
				return err
			}
			im.empty <- rs[:0]
		}
		return <-read // nothing is sealed of a file that broke off
	})
	s.past.forget(everyTank, 0)
	s.desk.Imported()
	if err != nil {
		close(im.stop)
		for range im.full {
		}
	}
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

// importing is the reading of one file, by one goroutine.
type importing struct {
	a         ImportArgs
	cfg       *config.Config
	until     aquarium.Instant // the greatest time that is taken
	batch     []aquarium.Reading
	rows      int // that could be read, and malformed those that could not
	malformed int
	badRows   int
	shown     []string
	last      *target
	targets   map[aquarium.SensorKey]*target
	full      chan []aquarium.Reading // to be stored; closed at the end
	empty     chan []aquarium.Reading // to be used again
	stop      chan struct{}           // closed when nothing is stored any more
}

// target is the sensor that rows are for.
type target struct {
	key    aquarium.SensorKey
	sensor aquarium.Sensor
	unit   aquarium.Unit
	plain  bool  // what is received is what it means
	err    error // it is not known
	told   bool
	next   *target // that came after it the last time
}

// errStopped ends the reading when the storing has failed.
var errStopped = errors.New("stopped")

// read reads all rows.
func (im *importing) read(ctx context.Context, in io.Reader) error {
	defer close(im.full)
	im.batch = make([]aquarium.Reading, 0, importBatch)
	err := wire.ReadCSV(in, func(line int, v aquarium.Sample) error {
		if im.rows++; im.rows%importBatch == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		return im.row(line, v)
	}, im.bad)
	if err != nil {
		return err
	}
	return im.flush()
}

func (im *importing) fate() string {
	if im.a.Replace {
		return "now replaced"
	}
	return "which stands; --replace would change it"
}

func (im *importing) row(line int, v aquarium.Sample) error {
	t := im.last
	if v.Sensor != t.key {
		t = im.target(v.Sensor)
	}
	if t.err != nil {
		im.stranger(line, t)
		return nil
	}
	if v.At < aquarium.Earliest || v.At > im.until {
		im.note(line, fmt.Errorf("time %s: want %s to now", v.At, aquarium.Earliest))
		return nil
	}
	r := aquarium.Reading{Sensor: t.key, At: v.At, Value: v.Value, Unit: t.unit, Retimed: v.Quality == aquarium.Retimed}
	if !t.plain {
		var err error
		if r, err = measure.Received(t.sensor, v); err != nil {
			im.note(line, err)
			return nil
		}
	}
	if im.batch = append(im.batch, r); len(im.batch) < importBatch {
		return nil
	}
	return im.flush()
}

// flush hands a batch on, and takes an empty one.
func (im *importing) flush() error {
	select {
	case im.full <- im.batch:
	case <-im.stop:
		return errStopped
	}
	select {
	case im.batch = <-im.empty:
	default:
		im.batch = make([]aquarium.Reading, 0, importBatch)
	}
	return nil
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

// stranger counts a row of a sensor that is not known, and tells the first.
func (im *importing) stranger(line int, t *target) {
	if t.told {
		im.badRows++
		return
	}
	t.told = true
	im.note(line, fmt.Errorf("%w: add it to the configuration, or name one that is there (its other rows are left out too)", t.err))
}

// target looks a sensor up. Which one follows which is mostly as it was before.
func (im *importing) target(k aquarium.SensorKey) *target {
	t := im.last.next
	if t == nil || t.key != k {
		if t = im.targets[k]; t == nil {
			t = &target{key: k}
			if t.sensor, t.err = FindSensor(im.cfg, k); t.err == nil {
				// What every row of a plain sensor has in common.
				r, err := measure.Received(t.sensor, aquarium.Sample{Sensor: k, Value: 1})
				t.plain, t.unit = err == nil && t.sensor.Scale == 0 && t.sensor.Offset == 0, r.Unit
			}
			im.targets[k] = t
		}
		im.last.next = t
	}
	im.last = t
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
