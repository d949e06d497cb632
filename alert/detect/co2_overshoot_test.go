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

// TestOpenUnder: a valve that is told open well under its controller's band is told before the
// pH is 0.2 under the target, but of a tank whose controller does that each day, or lets
// gas in by pulses.
func TestOpenUnder(t *testing.T) {
	for _, c := range []struct {
		name  string
		low   float64 // of other days
		valve string
		want  bool
	}{
		{"it is held open", 6.53, "0m:0 60m:1", true},
		{"it is brought there each day", 6.46, "0m:0 60m:1", false},
		{"gas comes by pulses", 6.53, inPulses(60*m, 3*h, time.Minute, 2*time.Minute), false},
	} {
		site := library()
		s := script{paths: calm(), every: 10 * time.Second, noise: 1, lasts: 150 * m}
		s.paths["ph"], s.paths["valve"] = "0m:6.6 60m:6.6 120m:6.47 180m:6.46", c.valve
		w := New(site)
		var days []Day
		for range traitLeast {
			days = append(days, Day{N: 24, Low: c.low})
		}
		w.Recall(&Learned{Tank: "atrium", Through: zero.Floor(day), Sensors: map[aquarium.SensorID]Diary{"ph": {Days: days}}})
		var told time.Duration
		ts := s.play(w, s.samples(t, site), 0, s.lasts)
		for _, x := range ts {
			if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.CO2Overshoot {
				told = x.At.Sub(zero)
			}
		}
		if (told > 0) != c.want || told > 125*m {
			t.Errorf("%s: told after %v, want %v soon after 106m:%s", c.name, told, c.want, brief(ts))
		}
	}
}

// TestRateLately: a morning that gas surged through says nothing of how fast it usually comes.
func TestRateLately(t *testing.T) {
	unknown := math.Inf(-1)
	for _, c := range []struct {
		before float64
		ago    time.Duration
		want   float64
	}{
		{-7, 5 * m, -7}, {0, 5 * m, unknown}, {-7, 2 * h, -6}, {0, 2 * h, -6}, {-7, 25 * h, unknown},
	} {
		d := dosing{morning: morning{At: zero, Rate: -6, Before: c.before}}
		if got := d.lately(zero.Add(c.ago)); got != c.want {
			t.Errorf("%v after a morning, the one before at %v: %v, want %v", c.ago, c.before, got, c.want)
		}
	}
}
