package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"lentic/cmd/lentic/config"
	"lentic/cmd/lentic/daemon"
	"lentic/cmd/lentic/tape"
	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/collector/wire"
)

// recorded is a file of readings to be judged. Rows in the order of their times
// are judged while they are read, once a sensor comes again after another: until
// then they may be by sensor, of which the first one alone would be judged in vain.
// Others come into order on a tape; where that turns out late, all begins anew.
type recorded struct {
	path       string
	cfg, other *config.Config // as it is, and as it is tried
	journal    []aquarium.Entry
	p          *progress
	rows       int
	told       int // the last line whose mistake was told

	origins map[aquarium.SensorKey]*origin
	last    *origin // of the last row
	trials  map[aquarium.SiteID]*trial
}

// origin is where rows come from.
type origin struct {
	sensor   aquarium.SensorKey
	possible func(v float64, u aquarium.Unit) bool
	trial    *trial           // nil: it is not configured
	came     bool             // a row of it has
	at       aquarium.Instant // of its last one that was judged
	next     *origin          // whose row came after that
}

// trial is a site that is judged.
type trial struct {
	*daemon.Trial
	site, other *aquarium.Site
	at          aquarium.Instant // of its last row
}

// errDisorder ends a reading in which a row is older than one before it.
var errDisorder = errors.New("not in the order of time")

// judge runs the live detection over the file.
func (r *recorded) judge(ctx context.Context) (*daemon.Report, error) {
	i, err := os.Stat(r.path)
	turns := err == nil && i.Mode().IsRegular() // what is no file can be read only once
	found, err := r.attempt(ctx, turns)
	if errors.Is(err, errDisorder) {
		found, err = r.attempt(ctx, false)
	}
	return found, err
}

// attempt judges rows as they are read as soon as sensors take turns in the order of
// time, where that is looked for, and else by way of a tape.
func (r *recorded) attempt(ctx context.Context, turns bool) (*daemon.Report, error) {
	t := tape.New()
	defer t.Close()
	doing, judging := "reading", false
	if turns {
		doing = "judging"
	}
	var last *origin
	err := r.read(ctx, doing, func(o *origin, s aquarium.Sample) error {
		if judging {
			return r.give(o, s)
		}
		turns = turns && s.At >= o.trial.at
		if turns && o.came && o != last {
			judging = true
			if err := r.play(ctx, t); err != nil {
				return err
			}
			return r.give(o, s)
		}
		o.trial.at, o.came, last = s.At, true, o
		return t.Add(s)
	})
	if err == nil && !judging {
		err = r.play(ctx, t)
	}
	return r.end(err)
}

// read gives each good row to row. A bad one is told with its line and costs
// nothing else.
func (r *recorded) read(ctx context.Context, doing string, row func(*origin, aquarium.Sample) error) error {
	in, err := openRecording(r.path, doing, r.p)
	if err != nil {
		return err
	}
	defer in.Close()
	r.rows, r.origins, r.last = 0, map[aquarium.SensorKey]*origin{}, &origin{}
	r.trials = map[aquarium.SiteID]*trial{}
	bad := func(line int, err error) error {
		if line > r.told { // else it was when the file was read before
			r.told = line
			r.p.clear()
			fmt.Fprintf(os.Stderr, "%s:%d: %v\n", r.path, line, err)
		}
		return nil
	}
	err = wire.ReadCSV(in, func(line int, s aquarium.Sample) error {
		if r.rows++; r.rows%4096 == 0 && ctx.Err() != nil {
			return errInterrupted
		}
		o, err := r.from(s.Sensor)
		if err != nil {
			return bad(line, fmt.Errorf("%w (its other rows are left out too)", err))
		}
		if o.trial == nil {
			return nil
		}
		if s.At < 0 || s.At >= latest {
			return bad(line, fmt.Errorf("time %s: is the year a slip? Want 1970 to %d", s.At, latest.Time().Year()-1))
		}
		if s.Quality == aquarium.Good && !o.possible(s.Value, "") {
			s.Quality = aquarium.OutOfRange
		}
		return row(o, s)
	}, bad)
	if err != nil && err != errDisorder && err != errInterrupted {
		return fmt.Errorf("%s: %w", r.path, err)
	}
	return err
}

// latest is when no reading was ever taken: time is counted within 290 years.
var latest = aquarium.At(time.Date(2201, 1, 1, 0, 0, 0, 0, time.UTC))

var errInterrupted = errors.New("interrupted: the readings were not judged to their end")

// from is origin for row after row: sensors come in turn.
func (r *recorded) from(k aquarium.SensorKey) (*origin, error) {
	o := r.last.next
	if o == nil || o.sensor != k {
		var err error
		if o, err = r.origin(k); err != nil {
			return nil, err
		}
		r.last.next = o
	}
	r.last = o
	return o, nil
}

// origin is where rows of that sensor come from; the error is that it is not
// configured, and comes once.
func (r *recorded) origin(k aquarium.SensorKey) (*origin, error) {
	if o := r.origins[k]; o != nil {
		return o, nil
	}
	o := &origin{sensor: k}
	r.origins[k] = o
	sensor, err := daemon.FindSensor(r.cfg, k)
	if err != nil {
		return nil, err
	}
	// Rows are in the first unit, after scale and offset.
	o.possible, o.trial = measure.Countable(aquarium.Sensor{Quantity: sensor.Quantity}), r.trials[k.Site]
	if o.trial == nil {
		o.trial = &trial{site: r.cfg.Site(k.Site), other: r.other.Site(k.Site)}
		r.trials[k.Site] = o.trial
	}
	return o, nil
}

// give has a row judged. Of two for the same sensor and time the first stands.
func (r *recorded) give(o *origin, s aquarium.Sample) error {
	t := o.trial
	if t.Trial == nil {
		t.Trial = daemon.NewTrial(*t.site, t.other, r.journal)
	} else if s.At < t.at {
		return errDisorder
	} else if s.At == o.at {
		return nil
	}
	t.at, o.at = s.At, s.At
	t.Give(s)
	return nil
}

// play has a tape judged, site by site.
func (r *recorded) play(ctx context.Context, t *tape.Tape) error {
	n := 0
	for s := range t.Sorted() {
		if n++; n%4096 == 0 {
			if ctx.Err() != nil {
				return errInterrupted
			}
			r.p.show("judging", float64(n)/float64(r.rows))
		}
		o, err := r.from(s.Sensor)
		if err == nil {
			err = r.give(o, s)
		}
		if err != nil {
			return err
		}
	}
	return t.Err()
}

// end ends every trial and says what they found.
func (r *recorded) end(err error) (*daemon.Report, error) {
	found := &daemon.Report{}
	for i := range r.cfg.Sites {
		site := &r.cfg.Sites[i]
		t := r.trials[site.ID]
		if t == nil || t.Trial == nil {
			continue
		}
		if err != nil {
			t.Drop()
			continue
		}
		was, is, span := t.End()
		found.Add(*site, is, was, span)
	}
	return found, err
}
