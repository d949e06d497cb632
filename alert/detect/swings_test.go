package detect

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestCoarseLevelToldOnChange: a level in steps of five millimetres on the edge between
// two of them, of which only changes are sent: between those it is where it was, and
// not at the mark.
func TestCoarseLevelToldOnChange(t *testing.T) {
	site := library()
	site = without(site, "topoff")
	for i := range site.Tanks[0].Sensors {
		if s := &site.Tanks[0].Sensors[i]; s.ID == "level" {
			s.OnChange, s.Refresh = true, 15*time.Minute
		}
	}
	site.Tanks[0].Equipment.TopOff.BandMM = 10
	w := New(site)
	last := aquarium.Instant(0)
	told := func(d time.Duration, mm float64) {
		last = zero.Add(d)
		w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: "level"}, At: last, Value: mm})
	}
	flickers := []time.Duration{9, 14, 23, 32, 35, 40, 42, 47, 51, 53} // min of each hour
	for d := time.Duration(0); d < 6*h; d += aquarium.Step {
		for _, f := range flickers {
			if d%h == f*m {
				told(d, -10)
				told(d+5*time.Second, -5)
			}
		}
		if zero.Add(d).Sub(last) >= 15*m {
			told(d, -5)
		}
		for _, x := range w.Tick(zero.Add(d)) {
			if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.WaterLoss {
				t.Fatalf("told at %v", d)
			}
		}
	}
}
