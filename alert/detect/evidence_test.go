package detect

import (
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestEvidenceSpeaksForTheAlarm: what whoever is woken reads beside an alarm must be a
// reason for it, and not one against it.
func TestEvidenceSpeaksForTheAlarm(t *testing.T) {
	for _, c := range []struct {
		scenario
		cause aquarium.Cause
		holds func(e aquarium.Evidence) bool
		says  string
	}{
		{
			scenario{name: "water siphons in within the band", every: 10 * time.Second, paths: map[string]string{"level": "0m:0 60m:-1 90m:5.5 120m:12"}, lasts: 90 * m},
			aquarium.TopOffRunaway,
			func(e aquarium.Evidence) bool { return e.Expected != nil && e.Value-*e.Expected >= 1 },
			"a level that is over what it should be with the pump off",
		},
		{
			scenario{name: "the upper float is wet and the pump runs on", change: func(t *aquarium.Tank) {
				floated(t)
				t.Equipment.TopOff.From = ""
			}, paths: map[string]string{"low": "0m:1", "high": "0m:0 61m:1", "topoff": "0m:0 60m:1"}, lasts: 70 * m},
			aquarium.TopOffRunaway,
			func(e aquarium.Evidence) bool {
				float, wet := e.Fact(FactFloat)
				ran, _ := e.Fact(FactRun)
				need, told := e.Fact(FactNeed)
				return wet && float.Word == "wet" && (!told || need.Value < ran.Value)
			},
			"the float, and no need that is longer than the run",
		},
		{
			scenario{name: "a leak that the top-off makes good", gone: []aquarium.SensorID{"topoff"},
				paths: map[string]string{"level": "0m:-2.9 60m:-3 62m:-4 68m:4 90m:-4 96m:4 110m:-1"}, lasts: 100 * m},
			aquarium.WaterLoss,
			func(e aquarium.Evidence) bool { return e.Expected == nil || e.Value < *e.Expected },
			"no level that is over what it should be",
		},
		{
			scenario{name: "the store runs out within the hour", change: withStores,
				paths: map[string]string{"store": "0m:120 60m:120 180m:2 240m:2", "refill": "0m:0", "level": "0m:0"}, lasts: 3 * h},
			aquarium.ReservoirLow,
			func(e aquarium.Evidence) bool {
				lasts, ok := e.Fact(FactLasts)
				return ok && lasts.Value <= 30 && e.HarmIn != nil && *e.HarmIn <= 30
			},
			"minutes by what leaves, and not days by what evaporates",
		},
		{
			scenario{name: "no switch tells of the valve", gone: []aquarium.SensorID{"valve"},
				paths: map[string]string{"ph": "0m:6.6 100m:6.6 160m:6.2 200m:6.2"}},
			aquarium.CO2ValveStuck,
			func(e aquarium.Evidence) bool {
				_, told := e.Fact(FactShut)
				_, over := e.Fact(FactOver)
				return over && !told
			},
			"that it should have been shut, and not that it was told to",
		},
		{
			scenario{name: "a filter stands, and not at its pause", paths: map[string]string{"flow-b": "0m:900 60m:900 60m1s:0"}, lasts: 2 * h},
			aquarium.FilterStalled,
			func(e aquarium.Evidence) bool {
				return slices.Contains(e.Excluded, aquarium.Excluded{What: aquarium.LookStop, Because: word(FactUsualAt, "03:00")})
			},
			"when its pause is",
		},
		{
			scenario{name: "the heater is dead and mains is on", paths: map[string]string{"water": "0m:24.5 60m:24.5 180m:23.2", "heat": "0m:0 60m:1"}},
			aquarium.HeaterNotHeating,
			func(e aquarium.Evidence) bool {
				return slices.Contains(e.Excluded, aquarium.Excluded{What: aquarium.LookPower, Because: word(FactMains, "on")})
			},
			"that there is mains",
		},
		{
			scenario{name: "the electrode is unplugged", paths: map[string]string{"ph": "0m:6.6 60m:6.6 60m10s:11"}, lasts: 90 * m},
			aquarium.SensorImplausible,
			func(e aquarium.Evidence) bool {
				return slices.ContainsFunc(e.Excluded, func(x aquarium.Excluded) bool {
					return x.What == aquarium.LookVisit && x.Because.Name == FactFor && x.Because.Value >= 18
				})
			},
			"for how long it lasts already, which no hands take",
		},
		{
			scenario{name: "CO2 has a bound", paths: map[string]string{"ph": "0m:6.6 120m:6.55 180m:6.15 240m:5.9", "valve": "0m:1 120m:0"}},
			aquarium.CO2ValveStuck,
			func(e aquarium.Evidence) bool { _, ok := e.Fact(FactBound); return ok },
			"the bound beside the estimate",
		},
		{
			scenario{name: "a sensor falls silent", paths: map[string]string{"flow-a": "0m:900 60m:- 120m:900"}, lasts: 90 * m},
			aquarium.SensorSilent,
			func(e aquarium.Evidence) bool {
				return rules(e, aquarium.LookSite, FactHeard, func(x float64) bool { return x < 1 })
			},
			"that the rest of the site was heard less than a minute ago",
		},
		{
			scenario{name: "the lights stay on", change: withLights, paths: map[string]string{"lamp": "0m:0 120m:1"}, lasts: 5 * h},
			aquarium.LightsStuckOn,
			func(e aquarium.Evidence) bool {
				return rules(e, aquarium.LookClock, FactFor, func(x float64) bool { return x >= lateFor.Minutes()-1 })
			},
			"for longer than a timer's clock is off",
		},
		{
			scenario{name: "the waste pump runs and the level stays", change: withStores, paths: map[string]string{"waste": "0m:240 60m:250 120m:260", "waste-pump": "0m:0 60m:1"}, lasts: 90 * m},
			aquarium.DrainPumpFailed,
			func(e aquarium.Evidence) bool {
				return rules(e, aquarium.LookInflow, FactRise, func(x float64) bool { return x < pourRate })
			},
			"that the level rose by less than what pours when the pump began",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, every := range c.intervals() {
				site, s := c.setUp()
				s.every = every
				told := false
				for _, x := range s.run(t, site) {
					if x.Event != aquarium.Raised || x.Identity.Cause != c.cause {
						continue
					}
					if told = true; !c.holds(x.Evidence) {
						t.Errorf("every %v: got %+v, want %s", every, x.Evidence, c.says)
					}
				}
				if !told {
					t.Errorf("every %v: %s was not told", every, c.cause)
				}
			}
		})
	}
}

// rules reports whether evidence rules a lookalike out by a number that is as it should be.
func rules(e aquarium.Evidence, what aquarium.Lookalike, fact string, is func(float64) bool) bool {
	return slices.ContainsFunc(e.Excluded, func(x aquarium.Excluded) bool {
		return x.What == what && x.Because.Name == fact && is(x.Because.Value)
	})
}
