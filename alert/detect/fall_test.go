package detect

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestSplashSettles: what a splash lifted the level by and what it falls by again is no
// water that leaves, though the top-off has just brought some; what falls further is, and
// so is what falls from where the top-off has brought it.
func TestSplashSettles(t *testing.T) {
	for _, c := range []struct {
		name string
		mm   []float64 // each ten seconds
		from int       // of which the fall begins
		want bool
	}{
		{"a splash", []float64{2, 2, 2.5, 7, 6, 5, 3.5, 3.5, 3, 2.5, 2, 2, 1.5, 1.5}, 4, true},
		{"a splash, and water leaves", []float64{2, 2, 2.5, 7, 6, 5, 3, 2, 1, 0, -1, -2, -3, -4}, 4, false},
		{"the top-off, and water leaves", []float64{-2, -1.8, -1.6, -1.4, -1.2, -1, -1.5, -2, -2.5, -3}, 5, false},
	} {
		x := &tank{level: &series{}, config: &aquarium.Tank{}}
		for i, mm := range c.mm {
			x.level.points = append(x.level.points, point{zero.Add(aquarium.Step * time.Duration(i)), mm})
		}
		if got := x.settles(downward(x.level.points[c.from:])); got != c.want {
			t.Errorf("%s: it settles: got %t, want %t", c.name, got, c.want)
		}
	}
}
