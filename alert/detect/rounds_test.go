package detect

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestTopOffGoesRound: a tank of 0.6 l/mm whose top-off keeps it within 2 mm of its mark,
// by readings once a minute in whole millimetres with noise. It is no matter while air
// takes a litre in seven hours, nor while a deficit is made good in many short runs; it
// is a loss when it runs every few minutes.
func TestTopOffGoesRound(t *testing.T) {
	site := library()
	tank := &site.Tanks[0]
	tank.Size.LengthCM, tank.Size.WidthCM = 120, 50
	tank.Equipment.TopOff.BandMM = 3
	perMM := tank.Size.LitresPerMM()
	for _, c := range []struct {
		name    string
		leak    float64 // l/h
		deficit float64 // mm, made good a minute in three
		told    bool
	}{
		{name: "air", leak: 0.15},
		{name: "a deficit in many runs", leak: 0.15, deficit: 25},
		{name: "a bucket in many runs", leak: 0.15, deficit: 6},
		{name: "20 l/h", leak: 20, told: true},
		{name: "40 l/h", leak: 40, told: true},
		{name: "60 l/h", leak: 60, told: true},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := rand.New(rand.NewPCG(1, 2))
			w := New(site)
			level, on, told := 1.0, false, time.Duration(0)
			for d := time.Duration(0); d < 3*h; d += aquarium.Step {
				if d == 2*h {
					level -= c.deficit
				}
				leaks := 0.15
				if d >= 2*h {
					leaks = c.leak
				}
				if on {
					leaks -= tank.Equipment.TopOff.RateLH
				}
				level -= leaks / perMM * aquarium.Step.Hours()
				if on = level < -2 || on && level < 2; c.deficit > 0 && d >= 2*h {
					on = level < 2 && d%(3*m) < m
				}
				if d%m == 0 {
					pump := 0.0
					if on {
						pump = 1
					}
					key := aquarium.SensorKey{Site: site.ID, Tank: tank.ID}
					key.Sensor = "level"
					w.Observe(aquarium.Sample{Sensor: key, At: zero.Add(d), Value: math.Round(level + 0.5*r.NormFloat64())})
					key.Sensor = tank.Equipment.TopOff.Pump
					w.Observe(aquarium.Sample{Sensor: key, At: zero.Add(d), Value: pump})
				}
				for _, x := range w.Tick(zero.Add(d)) {
					if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.WaterLoss && told == 0 {
						told = d
					}
				}
			}
			if c.told && (told < 2*h || told > 2*h+20*m) || !c.told && told != 0 {
				t.Errorf("water-loss told at %v, want %v within 20 min of 2h", told, c.told)
			}
		})
	}
}
