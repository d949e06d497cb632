package detect

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestRefusedSince: a probe that has stood still for an hour and says 85 Cel once, as a
// sensor does that has lost its supply for a moment, has said so once and not for an hour.
func TestRefusedSince(t *testing.T) {
	const good, frozen, far = aquarium.Good, aquarium.Frozen, aquarium.OutOfRange
	for _, c := range []struct {
		name string
		qs   []aquarium.Quality // one a minute
		want time.Duration      // -1: the newest is judged
	}{
		{"good", []aquarium.Quality{good, good}, -1},
		{"beyond what can be", []aquarium.Quality{good, far, far, far}, 0},
		{"frozen", []aquarium.Quality{good, frozen, frozen, frozen}, 0},
		{"frozen, and once beyond what can be", []aquarium.Quality{good, frozen, frozen, far}, 2 * m},
		{"... and frozen again", []aquarium.Quality{good, frozen, far, frozen}, 0},
		{"frozen, judged, and beyond what can be", []aquarium.Quality{good, frozen, good, far}, 2 * m},
	} {
		s := &series{}
		for i, q := range c.qs {
			s.take(zero.Add(time.Duration(i)*m), 24.45, q)
		}
		got := time.Duration(-1)
		if at, _ := s.refusedSince(); at != 0 {
			got = at.Sub(zero)
		}
		if got != c.want {
			t.Errorf("%s: refused since %v, want %v", c.name, got, c.want)
		}
	}
}
