package detect

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestCalledInVain: no switch tells of the refilling. A unit that has been asked at 50 l for
// days, and then brings next to nothing, is told within twice the three quarters of an hour
// that it takes.
func TestCalledInVain(t *testing.T) {
	const dies = 200 * h
	part := aquarium.Reservoir{Volume: "store", CapacityL: 60, ProductionLH: 15}
	for share, within := range map[float64]time.Duration{0: 85 * m, 0.05: 85 * m} {
		b := basin{litres: 58, full: 60, start: 50, makes: func(d time.Duration) float64 {
			if d > dies {
				return share * 15
			}
			return 15
		}}
		b.uses = func(d time.Duration) float64 { // a top-off twice a day
			if d%(13*h) < 6*m {
				return 37
			}
			return 0
		}
		raised, _ := b.told(aquarium.ReservoirNotRefilling, part, 260*h)
		called := time.Duration(0)
		for _, at := range b.fills {
			if at > dies {
				called = at
				break
			}
		}
		if called == 0 || len(raised) == 0 || raised[0] < called || raised[0] > called+within {
			t.Errorf("%g of it: told at %v; it is called for at %v", share, raised, b.fills)
		}
	}
}

// TestCalledAt: a store shows where its float is by fillings at any hour that began no higher
// than it ever rested, or by one that began lower; not by such as came by the clock, nor
// where it has rested below.
func TestCalledAt(t *testing.T) {
	three := []float64{49, 49.5, 48}
	for _, c := range []struct {
		starts []float64
		hours  []time.Duration
		rests  []float64
		margin float64
		off    float64
		want   float64
	}{
		{three, []time.Duration{2 * h, 40 * h, 90 * h}, []float64{52, 51, 54}, 1, 0, 49.5},
		{three, []time.Duration{2 * h, 40 * h, 90 * h}, []float64{52, 50, 54}, 1, 0, 49},
		{three, []time.Duration{2 * h, 40 * h, 90 * h}, []float64{52, 50, 54}, 4, 0, 48},
		{three, []time.Duration{2 * h, 40 * h, 90 * h}, []float64{52, 48, 54}, 1, 0, 0},
		{three, []time.Duration{2 * h, 49 * h, 97 * h}, []float64{52, 51, 54}, 1, 0, 0},
		{three[:1], []time.Duration{2 * h}, []float64{52, 51, 54}, 1, 0, 49},
		{three, []time.Duration{2 * h, 40 * h, 90 * h}, []float64{52, 51, 54}, 1, 0.75, 48.75},
		{three[:1], []time.Duration{2 * h}, []float64{52, 51, 54}, 1, 0.75, 48.25},
		{three[:1], []time.Duration{2 * h}, []float64{52, 49.5, 54}, 1, 0, 0}, // as by hand
		{three, nil, []float64{52, 51, 54}, 1, 0, 0},
	} {
		x := Vessel{Starts: c.starts, Rests: c.rests}
		for _, d := range c.hours {
			x.Started = append(x.Started, zero.Add(d))
		}
		if got := x.called(c.margin, c.off); got != c.want {
			t.Errorf("fillings at %v from %v, rests at %v: %g l, want %g", c.hours, c.starts, c.rests, got, c.want)
		}
	}
}

// TestShortFillingSlow: a filling of a quarter of an hour tells how fast a unit is, and that
// it brings two thirds of what it did.
func TestShortFillingSlow(t *testing.T) {
	const slow = 300 * h
	b := basin{litres: 195, full: 197, start: 184, useLH: 0.3}
	b.makes = func(d time.Duration) float64 {
		if d > slow {
			return 44
		}
		return 67
	}
	raised, _ := b.told(aquarium.ReservoirNotRefilling, aquarium.Reservoir{Volume: "store", CapacityL: 200, ProductionLH: 70}, 350*h)
	if len(raised) == 0 || raised[0] < slow {
		t.Errorf("told at %v; it fills at %v", raised, b.fills)
	}
}
