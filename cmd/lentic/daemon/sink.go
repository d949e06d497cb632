package daemon

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"

	"lentic/collector"
	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/store"
	"lentic/store/ledger"
)

// sink is the order of everything: a batch is stored, then judged, then shown.
// Whoever offered it acknowledges after Commit has returned.
type sink struct {
	store interface {
		Append(aquarium.Batch, func(ledger.Tx, aquarium.Outcome) error) (aquarium.Outcome, error)
	}
	note     func(ledger.Tx, aquarium.Outcome, aquarium.Instant) error // inside the commit
	take     func([]aquarium.Sample)                                   // judged
	publish  func([]aquarium.Sample)                                   // shown
	behind   func(aquarium.TankKey, aquarium.Instant)                  // told of samples of days that are over
	derivers atomic.Pointer[derivers]
	// commits counts what was committed, so that a heartbeat can tell a
	// store that moves from one that does not.
	commits atomic.Uint64
}

// derivers turn readings into samples. Commit is called by one goroutine at a
// time, so their state needs no lock; a new configuration brings a new set.
type derivers map[aquarium.SensorKey]*measure.Deriver

func newDerivers(sites []aquarium.Site, electrode func(aquarium.SensorKey) measure.Electrode) *derivers {
	ds := derivers{}
	for _, s := range sites {
		for _, t := range s.Tanks {
			for _, sensor := range t.Sensors {
				k := aquarium.SensorKey{Site: s.ID, Tank: t.ID, Sensor: sensor.ID}
				ds[k] = meaning(k, sensor, electrode)
			}
		}
	}
	return &ds
}

// meaning is the deriver of a sensor, with its calibrations where it has any.
func meaning(k aquarium.SensorKey, sensor aquarium.Sensor, electrode func(aquarium.SensorKey) measure.Electrode) *measure.Deriver {
	d := measure.For(k, sensor)
	if sensor.Quantity == aquarium.PH {
		d.Calibrated(func() measure.Electrode { return electrode(k) })
	}
	return d
}

// Commit is collector.Sink's: nil only when all of b is on disk.
func (s *sink) Commit(_ context.Context, b aquarium.Batch) error {
	o, err := s.store.Append(b, func(tx ledger.Tx, o aquarium.Outcome) error {
		return s.note(tx, o, b.Arrived)
	})
	if errors.Is(err, store.ErrFull) {
		return fmt.Errorf("%w: %w", collector.ErrFull, err)
	}
	if err != nil {
		return err
	}
	s.commits.Add(1)
	samples := s.samples(o.Fresh)
	today := b.Arrived.Floor(pastDay)
	for _, v := range samples {
		if v.At < today {
			s.behind(v.Sensor.TankKey(), v.At)
		}
	}
	s.take(samples)
	s.publish(samples)
	return nil
}

func (s *sink) samples(rs []aquarium.Reading) []aquarium.Sample {
	ds := *s.derivers.Load()
	out := make([]aquarium.Sample, 0, len(rs))
	for _, r := range rs {
		d := ds[r.Sensor]
		if d == nil && r.Sensor.Tank == aquarium.SiteWide {
			d = measure.ForGateway(r.Sensor)
			ds[r.Sensor] = d
		}
		if d == nil {
			continue // its sensor went with the last configuration
		}
		if v, ok := d.Sample(r); ok {
			out = append(out, v)
		}
	}
	return out
}
