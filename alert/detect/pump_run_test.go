package detect

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestTwiceByANoisyLevel: a run is told once it has brought twice what the level asked for,
// as far as that can be read: within four standard deviations nobody knows.
func TestTwiceByANoisyLevel(t *testing.T) {
	for _, c := range []struct{ noise, deficit, mm float64 }{{0.3, 2.2, 2}, {0.6, 2.2, 2.4}, {0.6, 5.6, 5}} {
		x := &tank{level: &series{}, config: &aquarium.Tank{
			Size:      aquarium.Size{LengthCM: 100, WidthCM: 90},
			Equipment: aquarium.Equipment{TopOff: &aquarium.TopOff{Level: "level", BandMM: 4, RateLH: 90}},
		}}
		x.level.wave.slow = c.noise * 1.954
		r := pumpRun{known: true, deficit: c.deficit}
		want := time.Duration(2 * c.mm * x.config.Size.LitresPerMM() / 90 * float64(time.Hour))
		if got := r.twice(x); (got - want).Abs() > time.Second {
			t.Errorf("%g mm wanted by a level with %g mm of noise: %v, want %v", c.deficit, c.noise, got, want)
		}
	}
}
