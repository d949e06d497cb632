package detect

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// TestWaves: hands in the water are seen by a fine level and by a coarse one; a level
// that stands on the edge between two of its steps, and flickers, shows none.
func TestWaves(t *testing.T) {
	for _, c := range []struct {
		name   string
		every  time.Duration
		step   float64 // mm
		at, sd float64 // mm
		want   bool
	}{
		{"still water, whole millimetres", 10 * time.Second, 1, 0.5, 0.3, false},
		{"on the edge of 2 mm", 30 * time.Second, 2, 1, 0.4, false},
		{"on the edge of 5 mm", time.Minute, 5, -2.5, 1.2, false},
		{"hands, whole millimetres", 10 * time.Second, 1, 0.5, 4, true},
		{"hands, 5 mm", time.Minute, 5, -2.5, 14, true},
	} {
		rng := rand.New(rand.NewPCG(5, 9))
		var w wave
		for d := time.Duration(0); d < 8*h; d += c.every {
			sd := 0.3
			if d >= 6*h {
				sd = c.sd
			}
			mm := c.at - 4.5*c.step // well between two steps
			if d >= 2*h && (d >= 6*h || !c.want) {
				mm = c.at
			}
			w.take(zero.Add(d), math.Round((mm+sd*rng.NormFloat64())/c.step)*c.step)
		}
		if got := w.rough != 0; got != c.want {
			t.Errorf("%s: waves %v, want %v", c.name, got, c.want)
		}
	}
}
