package detect

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// TestRunsOn: a pH that goes on down once the valve has shut gets gas, in whatever steps
// and how seldom it is read; one that turns does not.
func TestRunsOn(t *testing.T) {
	const shut = 60 * m
	for _, c := range []struct {
		name   string
		step   float64 // of the readings
		every  time.Duration
		slope  float64       // pH an hour, once what was let in has mixed
		within time.Duration // of the valve's shutting; 0: never
	}{
		{"a valve that leaks", 0.01, 10 * time.Second, -0.12, 24 * m},
		{"the same, seldom read", 0.02, m, -0.12, 34 * m},
		{"a valve that leaks less", 0.01, 10 * time.Second, -0.075, 32 * m},
		{"the same in steps of a twentieth", 0.05, 30 * time.Second, -0.12, 40 * m},
		{"the same, seldom read, more gas", 0.05, m, -0.2, 34 * m},
		{"gas leaves", 0.01, 10 * time.Second, 0.05, 0},
		{"as much comes as leaves", 0.01, 10 * time.Second, -0.01, 0},
		{"gas leaves slowly, read seldom and in steps of a twentieth", 0.05, m, 0.02, 0},
		{"as much comes as leaves, read seldom and in steps of a fiftieth", 0.02, m, 0, 0},
	} {
		for seed := range uint64(4) {
			site, rng := library(), rand.New(rand.NewPCG(seed, 17))
			w := New(site)
			told := time.Duration(0)
			for d := time.Duration(0); d <= shut+75*m && told == 0; d += aquarium.Step {
				// 0.3 an hour until it shuts, of which a mixing of four minutes goes on.
				ph, valve := 6.57+0.3*(shut-d).Hours(), 1.0
				if d > shut {
					ph, valve = 6.57-0.02*(1-math.Exp(-(d-shut).Minutes()/4))+c.slope*max(0, (d-shut-4*m).Hours()), 0
				}
				ph = math.Round((ph+0.004*rng.NormFloat64()+0.01*float64(seed))/c.step) * c.step
				if d%c.every == 0 {
					for id, v := range map[aquarium.SensorID]float64{"ph": ph, "valve": valve, "flow-a": 900, "flow-b": 880} {
						w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: id}, At: zero.Add(d), Value: v})
					}
				}
				for _, x := range w.Tick(zero.Add(d)) {
					if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.CO2ValveStuck {
						told = d - shut
					}
				}
			}
			if told < 0 || told > c.within || told == 0 && c.within > 0 {
				t.Errorf("%s, seed %d: told after %v, want within %v", c.name, seed, told, c.within)
			}
		}
	}
}

// TestInflation: of readings that err by what the ones before did the error of a mean is
// sqrt((1+r)/(1-r)) that of independent ones (any textbook, from memory), which thirty of
// them about their own line show to a third in the median.
func TestInflation(t *testing.T) {
	for _, r := range []float64{0, 0.3, 0.6} {
		random, found := rand.New(rand.NewPCG(5, uint64(10*r))), []float64(nil)
		for range 400 {
			var x, y []float64
			e := random.NormFloat64()
			for i := range 30 {
				x, y = append(x, float64(i)), append(y, e)
				e = r*e + math.Sqrt(1-r*r)*random.NormFloat64()
			}
			l, _ := statistic.Regress(x, y)
			for i := range y {
				y[i] -= l.Intercept + l.Slope*x[i]
			}
			found = append(found, inflation(y))
		}
		if got, want := statistic.Median(found), math.Sqrt((1+r)/(1-r)); math.Abs(got/want-1) > 1./3 {
			t.Errorf("r = %v: %.2f, want about %.2f", r, got, want)
		}
	}
}
