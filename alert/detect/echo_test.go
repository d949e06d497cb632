package detect

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestLevelByEcho: read once a minute with two millimetres of noise, of which each reading
// keeps half, and no switch tells of the top-off. A fortnight of it is neither a loss nor
// more than its band holds, though it lies at the end of that for hours; a litre and
// a fifth an hour are told within fourteen hours, 130, which the top-off does not hold,
// within twenty-five minutes: an hour's slope of such readings is wrong by more than a litre,
// so that the first takes hours to be sure of, and nothing can tell it in less.
func TestLevelByEcho(t *testing.T) {
	const keeps, noise, begins = 0.5, 2.0, 5*day + 5*h
	for _, c := range []struct {
		name   string
		leakLH float64
		within time.Duration
	}{{"sound", 0, 0}, {"a seam", 1.2, 14 * h}, {"a hose", 130, 25 * m}} {
		t.Run(c.name, func(t *testing.T) {
			lasts := begins + c.within
			if c.leakLH == 0 && !testing.Short() {
				lasts = 14 * day
			}
			for seed := range uint64(2) {
				site := library()
				tank := &site.Tanks[0]
				tank.Equipment.TopOff = &aquarium.TopOff{Level: "level", BandMM: 6, RateLH: 50}
				w, rng := New(site), rand.New(rand.NewPCG(seed, 8))
				k, err := vat{low: -6, high: 5}, 0.0
				told := time.Duration(0)
				for d := time.Duration(0); d < lasts && told == 0; d += aquarium.Step {
					out := 0.15
					if c.leakLH > 0 && d >= begins {
						out += c.leakLH
					}
					if k.step(out); d%time.Minute == 0 {
						err = keeps*err + noise*math.Sqrt(1-keeps*keeps)*rng.NormFloat64()
						w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: tank.ID, Sensor: "level"}, At: zero.Add(d), Value: math.Round(k.mm + err)})
					}
					for _, x := range w.Tick(zero.Add(d)) {
						if x.Event == aquarium.Raised && (x.Identity.Cause == aquarium.WaterLoss || x.Identity.Cause == aquarium.TopOffRunaway) {
							told = d
						}
					}
				}
				if (told > 0) != (c.leakLH > 0) || told > 0 && told < begins {
					t.Errorf("seed %d: told after %v", seed, told-begins)
				}
			}
		})
	}
}

// TestFalseEchoes: two in a row are neither water that came in nor, a little later, water
// that has left.
func TestFalseEchoes(t *testing.T) {
	site := library()
	site.Tanks[0].Equipment.TopOff = &aquarium.TopOff{Level: "level", BandMM: 6, RateLH: 50}
	w, rng := New(site), rand.New(rand.NewPCG(1, 8))
	for d := time.Duration(0); d < day; d += aquarium.Step {
		if d%time.Minute == 0 {
			mm := math.Round(-3 + 2*rng.NormFloat64())
			if echo := d % (3 * h); echo > 0 && echo <= 2*m {
				mm += 130 - 50*echo.Minutes()
			}
			w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: "level"}, At: zero.Add(d), Value: mm})
		}
		for _, x := range w.Tick(zero.Add(d)) {
			if x.Event == aquarium.Raised && (x.Identity.Cause == aquarium.WaterLoss || x.Identity.Cause == aquarium.TopOffRunaway) {
				t.Errorf("%s after %v", x.Identity.Cause, d)
			}
		}
	}
}
