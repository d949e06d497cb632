package detect

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// drawn is a top-off that takes 3.7 l every thirteen hours, and people who take some of the
// water in six minutes at certain times.
func drawn(litres float64, at ...time.Duration) func(time.Duration) float64 {
	return func(d time.Duration) float64 {
		for _, x := range at {
			if d >= x && d < x+6*m {
				return 10 * litres
			}
		}
		if d%(13*h) < 6*m {
			return 37
		}
		return 0
	}
}

// TestCallGoesOn: a call for water lasts until the store is full. A small unit, of which no
// switch tells, makes a third of what it did, of which two litres in half an hour is the
// most that shows; or a twentieth, where the top-off has taken it hardly below its float, so
// that the trickle brings it over that again. Both are told within twice the time.
func TestCallGoesOn(t *testing.T) {
	const dies = 300 * h
	for _, c := range []struct {
		makes, share float64 // l/h
		takes        float64 // l, at dies
	}{{8, 0.35, 25}, {8, 0.15, 25}, {20, 0.05, 0}} {
		b := basin{litres: 108, full: 110, start: 98, uses: drawn(c.takes, dies)}
		b.makes = func(d time.Duration) float64 {
			if d >= dies {
				return c.share * c.makes
			}
			return c.makes
		}
		raised, _ := b.told(aquarium.ReservoirNotRefilling, aquarium.Reservoir{Volume: "store", CapacityL: 110, ProductionLH: c.makes}, 345*h)
		called, need := time.Duration(0), 12+c.takes
		for _, at := range b.fills {
			if at >= dies-time.Hour {
				called = at
				break
			}
		}
		twice := time.Duration(2 * need / c.makes * float64(time.Hour))
		if called == 0 || len(raised) == 0 || raised[0] < called || raised[0] > called+twice {
			t.Errorf("%g of %g l/h, %g l taken: told at %v; called for at %v, due after %v", c.share, c.makes, c.takes, raised, b.fills, twice)
		}
	}
}

// TestCallDrawnOn: a unit that makes what it always did is none that fails, whatever people
// take while it fills, nor one whose float opens ten minutes late.
func TestCallDrawnOn(t *testing.T) {
	for _, makes := range []float64{8, 20, 60} {
		b := basin{litres: 108, full: 110, start: 98, uses: drawn(20, 250*h, 251*h, 252*h+30*m, 254*h, 290*h+10*m)}
		opened := time.Duration(0)
		b.makes = func(d time.Duration) float64 {
			if last := b.fills[len(b.fills)-1]; last != opened && d < last+10*m {
				return 0
			}
			return makes
		}
		raised, _ := b.told(aquarium.ReservoirNotRefilling, aquarium.Reservoir{Volume: "store", CapacityL: 110, ProductionLH: makes}, 330*h)
		if len(raised) != 0 {
			t.Errorf("%g l/h: told at %v; it fills at %v", makes, raised, b.fills)
		}
	}
}

// TestOverfullByLittle: two litres an hour are told within an hour and a half of full; a
// bucket, however full it makes the store, is not.
func TestOverfullByLittle(t *testing.T) {
	const opens = 200 * h
	for _, c := range []struct {
		what  string
		gives func(d time.Duration) float64 // l/h
		told  bool
	}{
		{"a valve that leaks", func(time.Duration) float64 { return 2 }, true},
		{"a bucket", func(d time.Duration) float64 {
			if d < 6*m {
				return 130
			}
			return 0
		}, false},
	} {
		b := basin{litres: 108, full: 110, start: 98, makes: func(time.Duration) float64 { return 4 }}
		full := time.Duration(0)
		b.uses = func(d time.Duration) float64 {
			if full == 0 && d > opens && b.litres >= 110 {
				full = d
			}
			if d >= opens {
				return -c.gives(d - opens)
			}
			return drawn(0)(d)
		}
		raised, _ := b.told(aquarium.ReservoirOverfull, aquarium.Reservoir{Volume: "store", CapacityL: 110, ProductionLH: 4}, opens+9*h)
		if full == 0 || (len(raised) > 0) != c.told || c.told && (raised[0] < full || raised[0] > full+90*m) {
			t.Errorf("%s: told at %v; full at %v", c.what, raised, full)
		}
	}
}
