package detect

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestCreepsToItsStart: a container that fills for hours past where its pump comes, or
// rests just there, by a level that errs by a millimetre and a half, is over that for some
// readings by chance.
func TestCreepsToItsStart(t *testing.T) {
	site := library()
	withStores(&site.Tanks[0])
	for name, filled := range map[string]float64{"it fills": 9.5, "it rests": 0} { // mm in half a day
		told := 0
		for seed := range uint64(10) {
			rng := rand.New(rand.NewPCG(seed, 7))
			w := New(site)
			for at := time.Duration(0); at <= 12*h; at += aquarium.Step {
				now := zero.Add(at)
				if at%time.Minute == 0 {
					mm := 249.5 - filled*(1-at.Hours()/12) + 1.5*rng.NormFloat64()
					for id, v := range map[aquarium.SensorID]float64{"waste": math.Round(2*mm) / 2, "waste-pump": 0} {
						w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: id}, At: now, Value: v})
					}
				}
				for _, x := range w.Tick(now) {
					if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.DrainPumpFailed {
						told++
					}
				}
			}
		}
		if told > 0 {
			t.Errorf("%s: told %d times of a pump that need not run yet", name, told)
		}
	}
}
