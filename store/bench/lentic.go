package main

import (
	"errors"
	"time"

	"lentic/collector/aquarium"
	"lentic/store"
	"lentic/store/bench/tanks"
)

// lentic is the store, with a clock that follows the readings: a year is then
// written in minutes, and housekeeping sees the time it would see.
type lentic struct {
	*store.Store
	keys  []aquarium.SensorKey
	units []aquarium.Unit
	now   time.Time
	batch aquarium.Batch
}

// openLentic makes or opens the file for so many tanks; o's clock is replaced.
func openLentic(path string, tankCount int, o store.Options) (*lentic, error) {
	l := &lentic{now: time.Unix(0, 0)}
	for i := range tankCount * tanks.Sensors {
		l.keys, l.units = append(l.keys, tanks.Key(i)), append(l.units, tanks.Unit(i))
	}
	o.Now = func() time.Time { return l.now }
	o.Reserve = -1 // it is no part of what is measured
	var err error
	l.Store, err = store.Open(path, o)
	return l, err
}

func (l *lentic) Name() string { return "" }

// fill makes a batch of readings. It is valid until the next.
func (l *lentic) fill(rs []tanks.Reading) aquarium.Batch {
	b := &l.batch
	b.Readings = b.Readings[:0]
	for _, r := range rs {
		b.Readings = append(b.Readings, aquarium.Reading{Sensor: l.keys[r.Series], At: aquarium.Instant(r.At), Value: r.Value, Unit: l.units[r.Series]})
	}
	if n := len(rs); n > 0 {
		l.now = time.UnixMilli(rs[n-1].At)
		b.Arrived = aquarium.Instant(rs[n-1].At)
	}
	return *b
}

func (l *lentic) Commit(rs []tanks.Reading) error {
	_, err := l.Append(l.fill(rs), nil)
	return err
}

// tidy does all housekeeping that is due.
func (l *lentic) tidy() error {
	for {
		more, err := l.Tidy()
		if !more || err != nil {
			return err
		}
	}
}

// load gives fn a way past the log.
func (l *lentic) load(fn func(add func([]tanks.Reading) error) error) error {
	return l.Bulk(func(add func(aquarium.Batch) error) error {
		return fn(func(rs []tanks.Reading) error { return add(l.fill(rs)) })
	})
}

func (l *lentic) Raw(series int, from, to int64, fn func(at int64, v float64)) error {
	return l.Window(l.keys[series], aquarium.Instant(from), aquarium.Instant(to), func(r aquarium.Reading) bool {
		fn(int64(r.At), r.Value)
		return true
	})
}

// chart counts the points of a chart, so that what is measured has a result.
func (l *lentic) chart(series int, from, to int64, width time.Duration) (points int, err error) {
	err = l.Sums(l.keys[series], aquarium.Instant(from), aquarium.Instant(to), width, func(aquarium.Sum) bool {
		points++
		return true
	})
	return points, err
}

func (l *lentic) seal() error { return errors.Join(l.Seal(), l.tidy()) }
