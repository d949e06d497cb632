package main

import (
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/sim"
)

func machines() []scenario {
	cut := func(says string, lasts time.Duration) grade {
		return grade{says, func(at aquarium.Instant) []sim.Planned {
			return []sim.Planned{{Fault: sim.FilterStallAfterPowerCut, Equipment: "a", At: at, Until: at.Add(lasts)}}
		}}
	}
	allStop := func(says string, apart time.Duration) grade {
		return grade{says, func(at aquarium.Instant) []sim.Planned {
			return []sim.Planned{{Fault: sim.FilterStall, Equipment: "a", At: at}, {Fault: sim.FilterStall, Equipment: "b", At: at.Add(apart)}}
		}}
	}
	hot := causes{aquarium.TemperatureHigh}
	cold := causes{aquarium.TemperatureLow}
	stall := causes{aquarium.FilterStalled}
	return []scenario{
		{name: "filter stalls", causes: stall, by: stalled, from: 0, to: 24, lasts: 2 * hour, grades: [3]grade{
			on("a", "stalls", sim.FilterStall, 0), on("a", "stalls", sim.FilterStall, 0), on("a", "stalls", sim.FilterStall, 0)}},
		{name: "filter inlet blocked", causes: stall, by: stalled, from: 0, to: 24, lasts: 2 * hour, grades: [3]grade{
			on("a", "a tenth left", sim.FilterBlocked, 0.1), on("a", "0.06 left", sim.FilterBlocked, 0.06), on("a", "0.02 left", sim.FilterBlocked, 0.02)}},
		{name: "filter stalled after a power cut", causes: stall, also: causes{aquarium.PowerLost}, by: stalledAfterCut, from: 0, to: 24, lasts: 3 * hour, grades: [3]grade{
			cut("3 min", 3*minute), cut("20 min", 20*minute), cut("90 min", 90*minute)}},
		{name: "filter does not start after feeding", causes: stall, by: stalledAfterStop, from: 12.52, to: 12.66, lasts: hour, grades: [3]grade{
			on("a", "stalls", sim.FilterStall, 0), on("a", "stalls", sim.FilterStall, 0), on("a", "stalls", sim.FilterStall, 0)}},
		{name: "all filters stop in the evening", causes: stall, by: allStopped, from: 18.1, to: 32, lasts: hour, grades: [3]grade{
			allStop("at once", 0), allStop("20 s apart", 20*time.Second), allStop("50 s apart", 50*time.Second)}},
		{name: "all filters stop in working hours, told as hands or a socket", causes: causes{aquarium.VisitUndeclared}, also: stall, by: allStopped, from: 13.1, to: 17.8, lasts: hour, grades: [3]grade{
			allStop("at once", 0), allStop("20 s apart", 20*time.Second), allStop("50 s apart", 50*time.Second)}},
		{name: "all filters stop in working hours and nobody is there", causes: stall, also: causes{aquarium.VisitUndeclared}, by: nobodyThere, from: 13.1, to: 17.8, lasts: hour, grades: [3]grade{
			allStop("at once", 0), allStop("20 s apart", 20*time.Second), allStop("50 s apart", 50*time.Second)}},
		{name: "filter clogs", causes: causes{aquarium.FilterClogging}, also: stall, by: clogging, from: 0, to: 24, lasts: 115 * day, slow: true, grades: [3]grade{
			on("a", "within 60-110 days", sim.FilterClog, 0.0015).kept(), on("a", "within 35-50 days", sim.FilterClog, 0.006).kept(), on("a", "within a fortnight", sim.FilterClog, 0.024)}},
		{name: "heater stuck on", causes: causes{aquarium.HeaterStuckOn}, also: hot, by: tooWarm, from: 0, to: 24, lasts: 3 * day, grades: [3]grade{
			one("at 0.6 of its power", sim.HeaterStuckOn, 0.6), one("relay welded", sim.HeaterStuckOn, 1), one("thermostat never satisfied", sim.HeaterCommandedOn, 0)}},
		{name: "heater not heating", causes: causes{aquarium.HeaterNotHeating}, also: cold, by: tooCold, from: 0, to: 24, lasts: 3 * day, grades: [3]grade{
			one("dead", sim.HeaterStuckOff, 0), one("never told", sim.HeaterCommandedOff, 0), one("dead in a cold room", sim.HeaterStuckOff, 0).with(sim.RoomTemperature, -6)}},
		{name: "heater too small for a cold spell", causes: causes{aquarium.HeaterNotHeating}, also: cold, by: tooCold, from: 0, to: 24, lasts: 3 * day, grades: [3]grade{
			one("0.4 of its power", sim.HeaterWeak, 0.4).with(sim.RoomTemperature, -8), one("0.3", sim.HeaterWeak, 0.3).with(sim.RoomTemperature, -8), one("0.15", sim.HeaterWeak, 0.15).with(sim.RoomTemperature, -8)}},
		{name: "cooling dead in the heat", causes: causes{aquarium.CoolingNotCooling}, also: hot, by: notCooled, from: 0, to: 24, lasts: 4 * day, grades: [3]grade{
			one("room 10 K warmer", sim.CoolingStuckOff, 0).with(sim.RoomTemperature, 10), one("12 K", sim.CoolingStuckOff, 0).with(sim.RoomTemperature, 12), one("15 K", sim.CoolingStuckOff, 0).with(sim.RoomTemperature, 15)}},
		{name: "lights stay off", causes: causes{aquarium.LightsNotOn}, by: lightsWrong, from: 6, to: 16, lasts: day, grades: [3]grade{
			one("off", sim.LightsStuckOff, 0), one("off", sim.LightsStuckOff, 0), one("off", sim.LightsStuckOff, 0)}},
		{name: "lights stay on", causes: causes{aquarium.LightsStuckOn}, also: causes{aquarium.PHHigh}, by: lightsWrong, from: 10, to: 26, lasts: day, grades: [3]grade{
			one("on", sim.LightsStuckOn, 0), one("on", sim.LightsStuckOn, 0), one("on", sim.LightsStuckOn, 0)}},
		{name: "doser does not dose", causes: causes{aquarium.DoserNotDosing}, by: notDosed, from: 1, to: 8.9, lasts: 2 * day, grades: [3]grade{
			on("iron", "dead", sim.DoserDead, 0), on("iron", "dead", sim.DoserDead, 0), on("iron", "dead", sim.DoserDead, 0)}},
		{name: "power lost at the site", causes: causes{aquarium.PowerLost}, also: causes{aquarium.TankPowerLost}, by: dark, from: 0, to: 24, lasts: 2 * hour, grades: [3]grade{
			one("cut", sim.PowerCut, 0), one("cut", sim.PowerCut, 0), one("cut", sim.PowerCut, 0)}},
		{name: "power lost at the tank", causes: causes{aquarium.TankPowerLost}, by: dark, from: 0, to: 24, lasts: 2 * hour, grades: [3]grade{
			one("cut", sim.TankPowerCut, 0), one("cut", sim.TankPowerCut, 0), one("cut", sim.TankPowerCut, 0)}},
		{name: "undeclared service visit", causes: causes{aquarium.VisitUndeclared}, by: unannounced, from: 9, to: 16, lasts: 5 * hour,
			also:  causes{aquarium.FilterStalled, aquarium.WaterLoss, aquarium.TopOffFailed},
			visit: &sim.Visit{Kind: sim.Service, Lasts: 90 * minute}, grades: [3]grade{{"90 min", nothing}, {"90 min", nothing}, {"90 min", nothing}}},
	}
}
