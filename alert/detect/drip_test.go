package detect

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestDripOnANoisyLevel: a top-off of seven litres an hour tops the tank up for ten
// minutes at a time; its level has a millimetre of noise and its store is told by half a
// litre. What three litres of noise hide in such a run is no loss; 22 l/h are.
func TestDripOnANoisyLevel(t *testing.T) {
	const perMM, dripLH, airLH, noise = 0.9, 7.0, 0.4, 1.2
	for _, c := range []struct {
		name  string
		leaks time.Duration // from then on; 0: never
	}{{"sound", 0}, {"a leak", 5*day + 10*h}} {
		site := library()
		tank := &site.Tanks[0]
		tank.Sensors = append(tank.Sensors, aquarium.Sensor{ID: "store", Quantity: aquarium.Volume})
		tank.Equipment.TopOff = &aquarium.TopOff{Level: "level", BandMM: 4, Pump: "topoff", RateLH: dripLH, From: "store"}
		w, rng := New(site), rand.New(rand.NewPCG(3, 9))
		mm, store, pump, lasts := 0.0, 200.0, 0.0, 6*day
		var told time.Duration
		for d := time.Duration(0); d < lasts && told == 0; d += aquarium.Step {
			const hours = 10.0 / 3600
			if mm < -1 {
				pump = 1
			} else if mm > 0.2 {
				pump = 0
			}
			out := airLH
			if c.leaks > 0 && d >= c.leaks {
				out += 22
			}
			mm += (dripLH*pump - out) * hours / perMM
			store -= dripLH * pump * hours
			for id, v := range map[aquarium.SensorID]float64{
				"level": math.Round((mm+noise*rng.NormFloat64())*2) / 2, "topoff": pump, "flow-a": 900, "flow-b": 880,
				"store": math.Round((store+0.4*rng.NormFloat64())*2) / 2,
			} {
				w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: tank.ID, Sensor: id}, At: zero.Add(d), Value: v})
			}
			for _, x := range w.Tick(zero.Add(d)) {
				if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.WaterLoss {
					told = d
				}
			}
		}
		switch {
		case c.leaks == 0 && told != 0:
			t.Errorf("%s: told after %v", c.name, told)
		case c.leaks > 0 && (told < c.leaks || told > c.leaks+20*m):
			t.Errorf("%s: told %v after it began, want within 20 min", c.name, told-c.leaks)
		}
	}
}
