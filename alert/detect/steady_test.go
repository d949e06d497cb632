package detect

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// TestSteadyClimb: from the lower end of its band a level climbs by a siphon's 20 l/h, which
// no top-off of 90 l/h does: not in one run, not in short ones, not when worn to two fifths,
// and not when it brings back what a hose has taken and still takes.
func TestSteadyClimb(t *testing.T) {
	const onset = 40.0 // min
	ramp := func(t, perHour, most float64) float64 { return min(most, max(0, t)*perHour/60) }
	for _, c := range []struct {
		name  string
		level func(t float64) float64 // mm, t in minutes since then
		told  bool
	}{
		{"a siphon of 20 l/h", func(t float64) float64 { return ramp(t, 22, 99) }, true},
		{"one run", func(t float64) float64 { return ramp(t, 100, 8) }, false},
		{"a short run", func(t float64) float64 { return ramp(t, 100, 2) }, false},
		{"a run of three millimetres", func(t float64) float64 { return ramp(t, 100, 3) }, false},
		{"a worn pump", func(t float64) float64 { return ramp(t, 40, 8) }, false},
		{"a pump worn to a good third", func(t float64) float64 { return ramp(t, 36, 8) }, false},
		{"a stone", func(t float64) float64 { return ramp(t, 6000, 3) }, false},
		{"a hose, and the top-off holds against it", func(t float64) float64 { return -ramp(t+8, 80, 10) + 10 + ramp(t, 22, 99) }, false},
	} {
		for _, every := range []time.Duration{10 * time.Second, time.Minute} {
			const runs = 200
			told, inTime := 0, 0
			for seed := range uint64(runs) {
				rng := rand.New(rand.NewPCG(seed, 21))
				site := library()
				tank := newTank(site.ID, &site.Tanks[0])
				tank.vessel.waver.short = apart{n: waverKept, noise: 0.42} // of 0.3 mm, rounded
				var ps []point
				off := rng.Float64()
				for d := rng.Float64() * every.Minutes(); d < onset+14; d += every.Minutes() {
					at := zero.Add(time.Duration(d * float64(time.Minute)))
					mm := math.Round(c.level(d-onset) - 3 + off - 0.5*d/60 + 0.3*rng.NormFloat64())
					ps = append(ps, point{at, mm})
					tank.level.wave.take(at, mm, true)
					if d > onset/2 && tank.seepsSteadily(ps, every) {
						if told++; d-onset < 11.5 {
							inTime++
						}
						break
					}
				}
			}
			t.Logf("%s, every %v: %d told, %d in time of %d", c.name, every, told, inTime, runs)
			if c.told && inTime < runs*7/10 || !c.told && told > runs/20 {
				t.Errorf("%s, every %v: %d told, %d in time of %d", c.name, every, told, inTime, runs)
			}
		}
	}
}
