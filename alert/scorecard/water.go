package main

import (
	"slices"

	"lentic/collector/aquarium"
	"lentic/collector/sim"
)

func water() []scenario {
	over := causes{aquarium.FloorWet, aquarium.ReservoirLow}
	lost := causes{aquarium.FloorWet, aquarium.TopOffRunaway, aquarium.ReservoirLow, aquarium.ReservoirNotRefilling, aquarium.TopOffFailed}
	comes := causes{aquarium.TopOffRunaway}
	goes := causes{aquarium.WaterLoss}
	drain := causes{aquarium.DrainPumpFailed, aquarium.DrainOverflow}
	// Something has to be refilled for the waste container to fill.
	refill := func(g grade) grade { return g.during(15*minute, sim.StoreUsed, 4*150) }
	leak := func(says string, litresH float64) grade {
		return grade{says, func(at aquarium.Instant) []sim.Planned {
			return []sim.Planned{{Fault: sim.Leak, At: at.Add(25 * minute), Strength: litresH}}
		}}
	}
	return []scenario{
		{name: "top-off runaway", causes: comes, also: over, by: runaway, from: 0, to: 24, lasts: 3 * hour, grades: [3]grade{
			one("30 l/h", sim.TopOffRunaway, 30), one("60 l/h", sim.TopOffRunaway, 60), one("90 l/h", sim.TopOffRunaway, 90)}},
		{name: "water siphons in", causes: comes, also: over, by: siphon, from: 0, to: 24, lasts: 2 * hour, grades: [3]grade{
			one("10 l/h", sim.TopOffSiphon, 10), one("20 l/h", sim.TopOffSiphon, 20), one("60 l/h", sim.TopOffSiphon, 60)}},
		{name: "water lost fast", causes: goes, also: lost, by: fastLoss, from: 0, to: 24, lasts: 2 * hour, grades: [3]grade{
			one("20 l/h", sim.Leak, 20), one("35 l/h", sim.Leak, 35), one("60 l/h", sim.Leak, 60)}},
		{name: "water lost slowly", causes: goes, also: lost, by: slowLoss, from: 0, to: 24, lasts: day, grades: [3]grade{
			one("1 l/h", sim.Leak, 1), one("2 l/h", sim.Leak, 2), one("4 l/h", sim.Leak, 4)}},
		{name: "hose bursts", causes: goes, also: slices.Concat(lost, causes{aquarium.FilterStalled}), by: fastLoss, from: 0, to: 24, lasts: 2 * hour, grades: [3]grade{
			on("a", "60 l/h", sim.BurstHose, 60), on("a", "200 l/h", sim.BurstHose, 200), on("a", "600 l/h", sim.BurstHose, 600)}},
		{name: "leak after an undeclared visit", causes: goes, also: slices.Concat(lost, causes{aquarium.VisitUndeclared, aquarium.FilterStalled}), by: leftBehind, from: 9, to: 16, lasts: 3 * hour,
			visit: &sim.Visit{Kind: sim.Quick, Lasts: 30 * minute}, grades: [3]grade{leak("60 l/h", 60), leak("200 l/h", 200), leak("600 l/h", 600)}},
		{name: "top-off failed", causes: causes{aquarium.TopOffFailed}, also: causes{aquarium.ReservoirLow}, by: topOffFailed, from: 0, to: 24, lasts: 7 * day, slow: true, grades: [3]grade{
			one("pump dead", sim.TopOffDead, 0), one("never told", sim.TopOffOff, 0), one("pump dead, a fan on", sim.TopOffDead, 0).with(sim.Draught, 0)}},
		{name: "top-off line nearly blocked", causes: causes{aquarium.TopOffFailed, aquarium.TopOffRunaway}, by: deadline{{"the pump has run for an hour", lasting(hour, func(m moment) bool { return m.truth.Topping }), 0}}, from: 0, to: 24, lasts: 7 * day, slow: true, grades: [3]grade{
			one("a twentieth comes", sim.TopOffWeak, 0.05), one("a fiftieth", sim.TopOffWeak, 0.02), one("a hundredth", sim.TopOffWeak, 0.01)}},
		{name: "water change stops half-way", causes: causes{aquarium.WaterChangeIncomplete}, also: causes{aquarium.TopOffFailed, aquarium.TopOffRunaway}, by: halfChanged, from: 28, to: 29.9, lasts: 6 * hour, grades: [3]grade{
			one("no filling", sim.ChangeStopped, 0), one("no filling", sim.ChangeStopped, 0), one("no filling", sim.ChangeStopped, 0)}},
		{name: "reservoir not refilling", causes: causes{aquarium.ReservoirNotRefilling}, also: causes{aquarium.ReservoirLow}, by: notRefilling, from: 0, to: 24, lasts: day, grades: [3]grade{
			one("dead, 50 l gone", sim.RefillDead, 0).during(15*minute, sim.StoreUsed, 4*50), one("dead, 100 l gone", sim.RefillDead, 0).during(15*minute, sim.StoreUsed, 4*100),
			one("dead, 150 l gone", sim.RefillDead, 0).during(15*minute, sim.StoreUsed, 4*150)}},
		// 0.72 of what the feed's warmth allows may be 0.78 of what the last filling
		// made, if that was colder by a few degrees: nobody measures the feed, and then
		// it is not a quarter less than is usual.
		{name: "reservoir production slow", causes: causes{aquarium.ReservoirNotRefilling}, also: causes{aquarium.ReservoirLow}, by: slowProduction, from: 0, to: 24, lasts: day, grades: [3]grade{
			refill(one("0.72 of normal", sim.RefillSlow, 0.72)), refill(one("half", sim.RefillSlow, 0.5)), refill(one("0.3 of normal", sim.RefillSlow, 0.3))}},
		{name: "reservoir leaks", causes: causes{aquarium.ReservoirNotRefilling, aquarium.ReservoirLow}, also: causes{aquarium.FloorWet}, by: slices.Concat(notRefilling, storeLow), from: 0, to: 24, lasts: day, grades: [3]grade{
			one("80 l/h", sim.ReservoirLeak, 80), one("120 l/h", sim.ReservoirLeak, 120), one("300 l/h", sim.ReservoirLeak, 300)}},
		{name: "reservoir overfull", causes: causes{aquarium.ReservoirOverfull}, also: causes{aquarium.FloorWet, aquarium.DrainOverflow}, by: overfull, from: 0, to: 24, lasts: day, grades: [3]grade{
			one("0.3 of its flow through a shut valve", sim.RefillUncommanded, 0.3), one("all of it", sim.RefillUncommanded, 1), one("commanded on", sim.RefillRunaway, 0)}},
		{name: "drain pump dead", causes: drain, also: causes{aquarium.FloorWet}, by: drainFailed, from: 0, to: 24, lasts: day, grades: [3]grade{
			one("50 l gone", sim.DrainPumpDead, 0).during(15*minute, sim.StoreUsed, 4*50), refill(one("150 l gone", sim.DrainPumpDead, 0)), one("inflow 200 l/h", sim.DrainPumpDead, 0).with(sim.DrainInflow, 200)}},
		{name: "drain nears its rim", causes: drain, also: causes{aquarium.FloorWet}, by: drainNear, from: 0, to: 24, lasts: 6 * hour, grades: [3]grade{
			one("1080 l/h come", sim.DrainInflow, 1080), one("1200 l/h", sim.DrainInflow, 1200), one("1300 l/h", sim.DrainInflow, 1300)}},
		{name: "floor wet", causes: causes{aquarium.FloorWet}, by: wet, from: 0, to: 24, lasts: hour, grades: [3]grade{
			one("wet", sim.FloorWet, 0), one("wet", sim.FloorWet, 0), one("wet", sim.FloorWet, 0)}},
		{name: "nothing: evaporation doubled", from: 0, to: 24, lasts: 4 * day, slow: true, also: causes{aquarium.ReservoirLow}, grades: [3]grade{
			one("a fan", sim.Draught, 0.6), one("a fan", sim.Draught, 1.1), one("a fan in a warm room", sim.Draught, 1.3).with(sim.RoomTemperature, 4)}},
		{name: "nothing: the store is used", from: 0, to: 24, lasts: 12 * hour, also: causes{aquarium.ReservoirLow}, grades: [3]grade{
			grade{"50 l", nothing}.during(15*minute, sim.StoreUsed, 4*50), grade{"100 l", nothing}.during(15*minute, sim.StoreUsed, 4*100), grade{"140 l", nothing}.during(15*minute, sim.StoreUsed, 4*140)}},
	}
}

func nothing(aquarium.Instant) []sim.Planned { return nil }
