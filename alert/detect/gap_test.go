package detect

import (
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestGapStopsNoFilter: a gap of five minutes in all readings is no stop of the filters; one
// of a quarter of an hour may hide one.
func TestGapStopsNoFilter(t *testing.T) {
	for _, c := range []struct {
		gap    time.Duration
		jolted bool
	}{{5 * time.Minute, false}, {15 * time.Minute, true}} {
		site := library()
		w := New(site)
		from := 20 * time.Minute
		for d := time.Duration(0); d < time.Hour; d += aquarium.Step {
			at := zero.Add(d)
			if d < from || d >= from+c.gap {
				for id, v := range map[aquarium.SensorID]float64{"level": 0, "flow-a": 900, "flow-b": 900} {
					w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: id}, At: at, Value: v})
				}
			}
			w.Tick(at)
		}
		x := &w.tanks[0].vessel
		if got := x.machines > zero.Add(from); got != c.jolted {
			t.Errorf("a gap of %v: unrest until %v, want some: %t", c.gap, x.machines.Sub(zero), c.jolted)
		}
	}
}

// TestPauseCutsNoFall: what a leak does before the filters pause and after it counts together,
// and each by itself is too little.
func TestPauseCutsNoFall(t *testing.T) {
	var ps []point
	x := &vessel{step: 0.1}
	at := func(i int) aquarium.Instant { return zero.Add(time.Duration(i) * time.Minute) }
	for i := range 45 {
		mm := -0.3 * max(0, float64(i-16))
		if i >= 24 && i < 34 { // hoses lift it while the filters stand
			mm += 2
		}
		ps = append(ps, point{at(i), mm})
	}
	x.jolt(at(23), at(24))
	x.jolt(at(33), at(34))
	stretches, fell := x.fallsBeside(ps)
	if len(stretches) != 3 || math.Abs(fell-4.8) > 1.5 {
		t.Errorf("falls by %g mm in %d stretches, want some five in three", fell, len(stretches))
	}
	for _, ps := range stretches {
		if ps[0].at < at(23) && ps[len(ps)-1].at > at(23) || ps[0].at < at(33) && ps[len(ps)-1].at > at(33) {
			t.Errorf("one lies across a stop or a start: from %v to %v", ps[0].at.Sub(zero), ps[len(ps)-1].at.Sub(zero))
		}
	}
}
