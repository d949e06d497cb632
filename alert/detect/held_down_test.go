package detect

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestHeaves: what an electrode in the air has risen by with the valve shut, and falls back
// from, is no gas; below where it rose from it may be.
func TestHeaves(t *testing.T) {
	for _, c := range []struct {
		name string
		at   func(m int) float64 // until an hour
		want bool
	}{
		{"a film that dries and falls", func(m int) float64 { return 7.2 + 0.012*float64(min(m, 30)) - 0.01*float64(max(0, m-30)) }, true},
		{"below where it rose from", func(m int) float64 { return 7.2 + 0.012*float64(min(m, 30)) - 0.02*float64(max(0, m-30)) }, false},
		{"gas leaves, and comes", func(m int) float64 { return 6.7 + 0.005*float64(min(m, 45)) - 0.007*float64(max(0, m-45)) }, false},
	} {
		w := New(library())
		tank := w.tanks[0]
		s := tank.sensor("ph")
		for m := range 61 {
			at := zero.Add(time.Duration(m) * time.Minute)
			s.hear(at, c.at(m))
			s.take(at, c.at(m), aquarium.Good)
			s.reckon()
		}
		tank.shutAt = zero.Add(-2 * h)
		g := gas{ph: s, value: s.value()}
		if got := g.heaved(&view{w: w, now: zero.Add(h)}, tank); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}
