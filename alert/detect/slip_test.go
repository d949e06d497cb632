package detect

import (
	"testing"
	"time"
)

// TestNoiseIsNoSlip: nine millimetres between two readings are a slip of a level that errs by
// a third of a millimetre, and of one that errs by one and a half they come about once a month.
func TestNoiseIsNoSlip(t *testing.T) {
	for _, c := range []struct {
		noise float64 // mm
		drop  float64 // mm
		is    bool
	}{{0.3, 9, true}, {1.4, 9, false}, {1.4, 13, true}} {
		site := library()
		w := New(site)
		tank := w.tanks[0]
		tank.level.wave.slow = 1.954 * c.noise
		for i := range 20 {
			at, mm := zero.Add(time.Duration(i)*time.Minute), 2.0
			if i >= 12 {
				mm -= c.drop
			}
			tank.level.points = append(tank.level.points, point{at, mm})
		}
		v := &view{w: w, now: tank.level.newest()}
		if got := tank.slips(v, tank.level.points, 12); got != c.is {
			t.Errorf("%g mm at once where readings err by %g: slips %t, want %t", c.drop, c.noise, got, c.is)
		}
	}
}
