package detect

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestOvershootThroughNoise: gas that comes slowly takes the pH through its bound a
// hundredth in a quarter of an hour, and the last digits flicker about it.
func TestOvershootThroughNoise(t *testing.T) {
	for seed := range uint64(3) {
		site, rng := library(), rand.New(rand.NewPCG(seed, 23))
		site.Tanks[0].Limits.CO2 = 0
		w, told := New(site), time.Duration(0)
		for d := time.Duration(0); d <= 2*h && told == 0; d += aquarium.Step {
			ph := 6.44 - 0.04*d.Hours() // 6.4 is passed after an hour
			for id, v := range map[aquarium.SensorID]float64{"ph": math.Round(1000*(ph+0.005*rng.NormFloat64())) / 1000, "valve": 1} {
				w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: id}, At: zero.Add(d), Value: v})
			}
			for _, x := range w.Tick(zero.Add(d)) {
				if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.CO2Overshoot {
					told = d
				}
			}
		}
		if told < 40*m || told > h+3*m {
			t.Errorf("seed %d: told after %v, want when an hour is over", seed, told)
		}
	}
}
