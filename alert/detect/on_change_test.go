package detect

import (
	"math"
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

const testRefresh = 15 * m

// onChange makes of samples that come by the clock those of sensors that tell their
// changes only, in steps of that size, and repeat themselves at each refresh.
func onChange(tank *aquarium.Tank, xs []aquarium.Sample, steps map[aquarium.SensorID]float64) []aquarium.Sample {
	told := map[aquarium.SensorID]aquarium.Sample{}
	for id := range steps {
		s := tank.Sensor(id)
		s.OnChange, s.Refresh = true, testRefresh
	}
	for i := range xs {
		if step := steps[xs[i].Sensor.Sensor]; step > 0 {
			xs[i].Value = step * math.Round(xs[i].Value/step)
		}
	}
	return slices.DeleteFunc(xs, func(x aquarium.Sample) bool {
		id := x.Sensor.Sensor
		was, heard := told[id]
		if steps[id] > 0 && heard && x.Value == was.Value && x.At.Sub(was.At) < testRefresh {
			return true
		}
		told[id] = x
		return false
	})
}

// TestStuckToldOnChange: a probe that tells its changes, and for two hours nothing but
// its refreshes, is told on its second day; one that goes on to tell its changes is not,
// nor is one that has nothing to say for hours of each day.
func TestStuckToldOnChange(t *testing.T) {
	site := library()
	s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 34 * h}
	frozen := zero.Add(28 * h)
	xs := s.samples(t, site)
	for i := range xs {
		if xs[i].Sensor.Sensor == "ph" && xs[i].At > frozen {
			xs[i].Value = 6.6
		}
	}
	xs = onChange(&site.Tanks[0], xs, map[aquarium.SensorID]float64{"ph": 0.01, "water": 0.02, "level": 5})
	var told []aquarium.Transition
	for _, x := range s.play(New(site), xs, 0, s.lasts) {
		if x.Identity.Cause == aquarium.SensorStuck {
			told = append(told, x)
		}
	}
	if len(told) != 1 || told[0].Identity.Equipment != "ph" || told[0].At.Sub(frozen) > 2*h {
		t.Errorf("told%s\nwant the pH within two hours of 28 h", brief(told))
	}
}
