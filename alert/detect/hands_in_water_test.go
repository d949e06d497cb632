package detect

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestSmallWavesByNight: small waves at the stop of all filters are those of hands by day
// and in the evening; by night they are chance.
func TestSmallWavesByNight(t *testing.T) {
	for clock, want := range map[aquarium.Clock]bool{2*60 + 30: false, 5*60 + 59: false, 6 * 60: true, 12 * 60: true, 21*60 + 59: true, 22 * 60: false} {
		w := New(library())
		u := w.tanks[0]
		u.clock = clock
		s := u.sensor("level")
		for d := time.Duration(0); d <= restlessFor; d += aquarium.Step {
			mm := 0.0
			if d/aquarium.Step%2 == 0 {
				mm = 1
			}
			s.hear(zero.Add(d), mm)
			s.take(zero.Add(d), mm, aquarium.Good)
		}
		s.reckon()
		s.wave.n, s.wave.slow, s.wave.digit = waveKnown+1, 0.5, 1
		u.signs.seeWaves(&view{w: w, now: zero.Add(restlessFor), tank: u}, u, true)
		if got := u.signs.first[waves] != 0; got != want {
			t.Errorf("at %02d:%02d: hands %v, want %v", clock/60, clock%60, got, want)
		}
	}
}
