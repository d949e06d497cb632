package detect

import (
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestOutgassing: of gas that decays to the room's share by so much an hour the night tells
// the rate; and as far as it says a shift of the probe shows in the morning, and in the
// ramp, so far it does when the tank is reckoned with a probe that is off.
func TestOutgassing(t *testing.T) {
	const target, by = 6.6, 0.05
	room := math.Pow(10, -7.6)
	for _, c := range []struct {
		rate  float64 // an hour
		hours int     // a night
	}{{0.15, 12}, {0.25, 14}, {0.4, 15}} {
		w := New(library())
		u := w.tanks[0]
		u.config.Equipment.CO2.Target = target
		s := u.sensor("ph")
		ph := func(hours, e float64) float64 { // read; it was held at the target until 0
			acid := math.Pow(10, -target+e)
			return e - math.Log10(room+(acid-room)*math.Exp(-c.rate*max(0, hours)))
		}
		for m := -120; m < c.hours*60; m++ {
			s.take(zero.Add(time.Duration(m)*time.Minute), ph(float64(m)/60, 0), aquarium.Good)
		}
		over := zero.Add(time.Duration(c.hours) * h)
		night := float64(c.hours) - (plateauOver / 2).Hours()
		got := u.outgas(s, over, ph(night, 0))
		if math.Abs(got.rate/c.rate-1) > 0.02 {
			t.Errorf("%v an hour: found %.3f", c.rate, got.rate)
		}
		// Half an hour of what was held counts as of the night.
		if want := (ph(night, by) - ph(night, 0)) / by; got.shows < want-0.03 || got.shows > want+0.1 {
			t.Errorf("%v an hour: the night shows %.2f of a shift, want %.2f", c.rate, got.shows, want)
		}
		const pace = 3e-7 // of gas, an hour, as 10^-pH of a probe that is right
		gain := func(e float64) float64 {
			acid := math.Pow(10, -7)
			return math.Pow(10, -e)*(pace+c.rate*room) - c.rate*acid // at what is read as 7
		}
		want := -math.Log10(gain(by)/gain(0)) / by
		if got := got.gains(math.Pow(10, -7), gain(0)); math.Abs(got-want) > 0.03 {
			t.Errorf("%v an hour: the ramp shows %.2f of a shift, want %.2f", c.rate, got, want)
		}
	}
}
