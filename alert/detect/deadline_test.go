package detect

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// Deadlines of our own for causes that no fault of the scorecard leads to by
// themselves. Those of all others stand in alert/scorecard/deadlines.go; `unusual` is
// told within two days (TestUnusual), for it waits for whatever has a name.
var ownDeadlines = []struct {
	scenario
	cause  aquarium.Cause
	true   time.Duration // when the words come true
	within time.Duration // ... or two reporting intervals, whichever is longer
	why    string
}{
	{
		scenario{name: "pH passes its lower bound", change: undosed, paths: map[string]string{"ph": "0m:6.64 135m:6.1 210m:5.8"}, lasts: 3 * h},
		aquarium.PHLow, 135 * m, 10 * m,
		"acid kills in hours; five minutes outlast a probe that is lifted, and a slope of 0.24 an hour takes as long through its noise",
	},
	{
		scenario{name: "pH passes its upper bound", change: undosed, paths: map[string]string{"ph": "0m:7.8 150m:8.4 240m:8.76"}},
		aquarium.PHHigh, 150 * m, 15 * m,
		"it harms more slowly than acid, and plants bring it about for a while: twice the delay",
	},
	{
		scenario{name: "pH will pass its lower bound within the hour", change: undosed, paths: map[string]string{"ph": "0m:7 120m:7 210m:6.1 240m:6.1"}},
		aquarium.PHFalling, 150 * m, 20 * m,
		"two thirds of the hour are left then",
	},
	{
		scenario{name: "the water passes its upper bound", change: heaterless, paths: map[string]string{"water": "0m:27 90m:28 180m:29"}, lasts: 3 * h},
		aquarium.TemperatureHigh, 90 * m, 15 * m,
		"some hundred litres warm by half a degree an hour at most: nothing is lost by minutes",
	},
	{
		scenario{name: "the water passes its lower bound", change: heaterless, paths: map[string]string{"water": "0m:23 90m:22 180m:21"}, lasts: 3 * h},
		aquarium.TemperatureLow, 90 * m, 15 * m,
		"as for its upper bound",
	},
	{
		scenario{name: "a tenth of the store is left", change: withStores, paths: map[string]string{"store": "0m:28 150m:18 240m:12", "refill": "0m:0"}},
		aquarium.ReservoirLow, 150 * m, 10 * m,
		"a tenth is a day's top-off and more: nobody comes for it within minutes",
	},
}

// undosed takes the gas away, and what would explain a pH.
func undosed(t *aquarium.Tank) { t.Equipment.CO2, t.Limits.CO2 = nil, 0 }

// TestOwnDeadlines: each is kept, and not by telling before it is so.
func TestOwnDeadlines(t *testing.T) {
	for _, c := range ownDeadlines {
		for _, every := range c.intervals() {
			for _, phase := range []time.Duration{0, 7 * time.Second} {
				t.Run(c.name+"/"+every.String()+"+"+phase.String(), func(t *testing.T) {
					site, s := c.setUp()
					s.every, s.phase = every, phase
					told := time.Duration(-1)
					for _, x := range s.run(t, site) {
						if x.Event == aquarium.Raised && x.Identity.Cause == c.cause {
							told = x.At.Sub(zero)
							break
						}
					}
					if by := c.true + max(c.within, 2*every); told < c.true-5*m || told > by {
						t.Errorf("told at %v, want by %v: %s", told, by, c.why)
					}
				})
			}
		}
	}
}
