package detect

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestLaps: a float lets the level go no further than from 0 to 2 mm under its mark, and
// the pump brings 40 l/h. With 22 l/h leaking from 150 by 60 cm that is down in five
// minutes and up in six, of which readings in whole millimetres show as many steps. What
// only looks like it in one way is no leak.
func TestLaps(t *testing.T) {
	// laps is a path that goes to and fro between two values after the first hour.
	laps := func(down, up time.Duration, high, low float64) string {
		p := fmt.Sprintf("0m:%g ", high)
		for at := h; at < 3*h; at += down + up {
			p += fmt.Sprintf("%v:%g %v:%g ", at, high, at+down, low)
		}
		return p
	}
	turns := func(rest, run time.Duration) string {
		p := "0m:0 "
		for at := h; at < 3*h; at += rest + run {
			p += fmt.Sprintf("%v:1 %v:0 ", at+rest, at+rest+run)
		}
		return p
	}
	fill := "0m:-9 60m:-9 "
	for at := h; at < 3*h; at += 3 * m { // a millimetre a run of a minute and a half, which is what 40 l/h are
		fill += fmt.Sprintf("%v:%g %v:%g ", at+90*time.Second, min(0, -9+float64((at-h)/(3*m))), at+3*m, min(0, -8+float64((at-h)/(3*m))))
	}
	for _, c := range []struct {
		name, level, pump string
		by                [2]time.Duration // with a reading each ten seconds, and a minute
	}{
		{"a leak", laps(5*m, 6*m, 0, -2), turns(5*m, 6*m), [2]time.Duration{25 * m, 50 * m}},
		{"a pump that brings nothing", "0m:-2", turns(5*m, 6*m), [2]time.Duration{}},
		{"a float that chatters", "0m:-1", turns(50*time.Second, 10*time.Second), [2]time.Duration{}},
		{"pulses that fill it", fill, turns(90*time.Second, 90*time.Second), [2]time.Duration{}},
		{"a level that goes down with the pump", laps(5*m, 6*m, -2, 0), turns(5*m, 6*m), [2]time.Duration{}},
	} {
		for i, every := range []time.Duration{10 * time.Second, time.Minute} {
			site := library()
			top := *site.Tanks[0].Equipment.TopOff
			top.RateLH = 40
			site.Tanks[0].Equipment.TopOff = &top
			s := script{paths: calm(), every: every, noise: 0.5, lasts: 2 * h}
			s.paths["level"], s.paths["topoff"] = c.level, c.pump
			got := slices.DeleteFunc(s.run(t, site), func(x aquarium.Transition) bool {
				return x.Event != aquarium.Raised || x.Identity.Cause != aquarium.WaterLoss
			})
			switch by := c.by[i]; {
			case by == 0 && len(got) > 0:
				t.Errorf("%s, each %v: a loss is told after %v", c.name, every, got[0].At.Sub(zero.Add(h)))
			case by > 0 && (len(got) == 0 || got[0].At > zero.Add(h+by)):
				t.Errorf("%s, each %v: told %v, want a loss within %v", c.name, every, got, by)
			}
		}
	}
}
