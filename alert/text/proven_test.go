package text

import (
	"time"

	"lentic/collector/aquarium"
)

// proven is one alarm of each cause, and more of those with more than one proof.
func proven() []aquarium.Alarm {
	type ev = aquarium.Evidence
	type facts = []aquarium.Fact
	type nots = []aquarium.Excluded
	clogs := proof(aquarium.FilterClogging, "a", ev{Sensor: "flow-a", Value: 890, Unit: "l/h", Limit: of(730), Expected: of(1090), PerHour: of(-0.24),
		Facts:    facts{num("normal", 1090, "l/h"), num("since", 45, "d")},
		Excluded: nots{not(aquarium.LookStop, num("normal", 81.7, "%"))}})
	clogs.Projected, clogs.PageOnly = aquarium.At(time.Date(2031, 3, 14, 0, 0, 0, 0, time.UTC)), true
	as := []aquarium.Alarm{
		proof(aquarium.CO2Overshoot, "co2", ev{Sensor: "ph", Value: 5.98, Unit: "pH", Limit: of(6.4), Expected: of(6.6), PerHour: of(-0.352), HarmIn: of(43),
			Facts:    facts{num("target", 6.6, "pH"), num("co2", 42.3, "mg/l"), num("kh", 4, "dKH"), says("assumed", "water at 25 Cel"), says("valve", "open")},
			Excluded: nots{not(aquarium.LookControl, num("under", 0.62, "pH"))}}),
		proof(aquarium.CO2Overshoot, "co2", ev{Sensor: "ph", Value: 38.4, Unit: "mg/l", Limit: of(35), PerHour: of(9.7), HarmIn: of(81),
			Facts: facts{num("target", 6.6, "pH"), num("co2", 38.4, "mg/l"), num("kh", 3.5, "dKH"), says("valve", "unknown"), num("ph", 6.38, "pH")}}),
		proof(aquarium.CO2ValveStuck, "co2", ev{Sensor: "ph", Value: 6.31, Unit: "pH", Expected: of(6.6), PerHour: of(-0.4), HarmIn: of(0.5),
			Facts:    facts{num("target", 6.6, "pH"), says("valve", "shut"), num("shut", 25, "min")},
			Excluded: nots{not(aquarium.LookControl, num("shut", 25, "min")), not(aquarium.LookPlants, num("gain", 12.2, "mg/l"))}}),
		proof(aquarium.CO2ValveStuck, "co2", ev{Sensor: "ph", Value: 7.36, Unit: "pH", PerHour: of(-1.2), HarmIn: of(80),
			Facts:    facts{num("target", 6.85, "pH"), num("co2", 10.2, "mg/l"), num("kh", 7, "dKH"), says("valve", "unknown"), num("bound", 50, "mg/l"), num("over", 840, "min")},
			Excluded: nots{not(aquarium.LookControl, num("over", 840, "min")), not(aquarium.LookPlants, num("gain", 51, "mg/l"))}}),
		proof(aquarium.CO2Overshoot, "co2", ev{Sensor: "ph", Value: 6.63, Unit: "pH", Limit: of(6.5), Expected: of(6.7), PerHour: of(-1.39), HarmIn: of(4),
			Facts:    facts{num("target", 6.7, "pH"), num("co2", 40, "mg/l"), num("kh", 5, "dKH"), says("valve", "shut"), num("bound", 45, "mg/l")},
			Excluded: nots{not(aquarium.LookControl, num("fell", 0.13, "pH"))}}),
		proof(aquarium.CO2NotDosing, "co2", ev{Sensor: "ph", Value: 7.41, Unit: "pH", Expected: of(6.6),
			Facts: facts{num("target", 6.6, "pH"), says("valve", "pulses"), num("asked", 50, "min")}}),
		proof(aquarium.CO2NotDosing, "co2", ev{Sensor: "ph", Value: 7.12, Unit: "pH", PerHour: of(0.02), Expected: of(6.71),
			Facts: facts{num("target", 6.6, "pH"), says("valve", "open"), num("asked", 62, "min"), num("left", 4.18, "kg")},
			Excluded: nots{not(aquarium.LookPower, says("mains", "on")), not(aquarium.LookProbe, num("moved", 0.03, "pH")),
				not(aquarium.LookCylinder, num("left", 4.18, "kg"))}}),
		proof(aquarium.PHFalling, "ph", ev{Sensor: "ph", Value: 6.02, Unit: "pH", Limit: of(5.9), PerHour: of(-0.35), HarmIn: of(20.6),
			Excluded: nots{not(aquarium.LookControl, num("shut", 40, "min"))}}),
		proof(aquarium.PHHigh, "ph", ev{Sensor: "ph", Value: 8.51, Unit: "pH", Limit: of(8.4), PerHour: of(-0.05)}),
		proof(aquarium.PHLow, "ph", ev{Sensor: "ph", Value: 5.81, Unit: "pH", Limit: of(5.9), PerHour: of(0.1), Excluded: nots{not(aquarium.LookProbe, num("moved", 0.05, "pH"))}}),
		proof(aquarium.PHProbeDrift, "co2", ev{Sensor: "ph", Value: 7.38, Unit: "pH", Expected: of(7.22),
			Facts: facts{num("shift", 0.15, "pH"), num("gas", 62.6, "%"), num("open", 37, "%"), num("before", 26.5, "%"), num("co2", 48.6, "mg/l"), num("kh", 4, "dKH"), says("doubt", "probe or KH")},
			Excluded: nots{not(aquarium.LookPlants, num("gas", 62.6, "%")), not(aquarium.LookValve, num("night", 0.16, "pH")),
				not(aquarium.LookHardness, num("kh", 4, "dKH"))}}),
		proof(aquarium.PHProbeDrift, "co2", ev{Sensor: "ph", Value: 6.65, Unit: "pH", Expected: of(6.5),
			Facts:    facts{num("shift", 0.15, "pH"), num("held", 70.8, "%"), num("open", 49, "%"), num("before", 36.5, "%"), num("co2", 41.2, "mg/l"), num("kh", 4, "dKH"), says("doubt", "probe, KH or gas")},
			Excluded: nots{not(aquarium.LookPlants, num("held", 70.8, "%"))}}),
		proof(aquarium.TopOffRunaway, "top-off", ev{Sensor: "level", Value: 14.2, Unit: "mm", Limit: of(4), Expected: of(4), PerHour: of(88.4), HarmIn: of(17.5),
			Facts:    facts{says("assumed", "rim 40 mm above the mark"), says("pump", "on"), num("run", 12, "min"), num("need", 6, "min"), num("added", 18, "l")},
			Excluded: nots{not(aquarium.LookTopOff, num("need", 6, "min")), not(aquarium.LookSplash, num("for", 4, "min"))}}),
		proof(aquarium.TopOffRunaway, "top-off", ev{Sensor: "level", Value: 9, Unit: "mm", Limit: of(4), Expected: of(4), PerHour: of(13),
			Facts: facts{says("pump", "off")}, Excluded: nots{not(aquarium.LookTopOff, num("off", 195, "min"))}}),
		proof(aquarium.TopOffRunaway, "top-off", ev{Sensor: "high",
			Facts: facts{says("float", "wet"), says("pump", "on"), num("run", 2, "min"), num("added", 2, "l")}}),
		proof(aquarium.TopOffFailed, "top-off", ev{Sensor: "level", Value: -9, Unit: "mm", Limit: of(-4), PerHour: of(-0.7), HarmIn: of(9000),
			Facts:    facts{says("assumed", "intakes a third down"), says("pump", "on"), num("need", 6, "min"), num("run", 14, "min")},
			Excluded: nots{not(aquarium.LookStore, num("stored", 132, "l")), not(aquarium.LookPower, says("mains", "on"))}}),
		proof(aquarium.WaterLoss, "", ev{Sensor: "level", Value: -14, Unit: "mm", Expected: of(-2.1), PerHour: of(-22), HarmIn: of(420),
			Facts:    facts{num("loss", 20.4, "l/h"), num("evaporation", 0.21, "l/h"), num("days", 9, ""), says("pump", "off"), says("filter", "stands")},
			Excluded: nots{not(aquarium.LookEvaporation, num("may", 0.45, "l/h"))}}),
		proof(aquarium.WaterLoss, "", ev{Sensor: "level", Value: -0.6, Unit: "mm", HarmIn: of(90),
			Facts:    facts{says("made good", "so far"), says("assumed", "nothing comes into the store"), num("loss", 47.2, "l/h"), num("evaporation", 0.21, "l/h"), num("days", 9, ""), says("pump", "on")},
			Excluded: nots{not(aquarium.LookEvaporation, num("may", 0.7, "l/h"))}}),
		proof(aquarium.WaterChangeIncomplete, "water-change", ev{Sensor: "level", Value: -61, Unit: "mm", Expected: of(1), Limit: of(-20),
			Facts: facts{num("missing", 66, "l"), says("out", "off"), says("in", "unknown"), num("for", 95, "min")}, Excluded: nots{not(aquarium.LookChange, num("still", 12, "min"))}}),
		proof(aquarium.FilterStalled, "a", ev{Sensor: "flow-a", Value: 0, Unit: "l/h", Limit: of(220), Expected: of(1090), HarmIn: of(240),
			Facts:    facts{num("normal", 1090, "l/h"), says("others", "running"), num("mains", 6, "min")},
			Excluded: nots{not(aquarium.LookPower, says("mains", "on")), not(aquarium.LookStop, num("usual", 10, "min"))}}),
		proof(aquarium.FilterStalled, "b", ev{Sensor: "flow-b", Value: 110, Unit: "l/h", Limit: of(220), Expected: of(1090),
			Facts:    facts{num("normal", 1090, "l/h"), says("others", "stalled")},
			Excluded: nots{not(aquarium.LookStop, says("pauses", "12:30"))}}),
		clogs,
		proof(aquarium.ReservoirLow, "reservoir", ev{Sensor: "store", Value: 12, Unit: "l", Limit: of(20), PerHour: of(-1.4), HarmIn: of(514),
			Facts: facts{num("lasts", 514, "min"), says("refill", "off")}}),
		proof(aquarium.ReservoirLow, "reservoir", ev{Sensor: "store", Value: 12, Unit: "l", Limit: of(20),
			Facts: facts{says("refill", "on")}, Excluded: nots{not(aquarium.LookRefill, num("moved", -1.2, "l"))}}),
		proof(aquarium.ReservoirNotRefilling, "reservoir", ev{Sensor: "store", Value: 41, Unit: "l", Expected: of(160), PerHour: of(0.3),
			Facts:    facts{says("refill", "on"), num("normal", 76, "l/h"), num("for", 126, "min"), num("need", 112, "min"), num("made", 3.1, "l/h")},
			Excluded: nots{not(aquarium.LookCold, num("fillings", 5, ""))}}),
		proof(aquarium.ReservoirOverfull, "reservoir", ev{Sensor: "store", Value: 186, Unit: "l", Limit: of(180), Expected: of(180), PerHour: of(42), HarmIn: of(17),
			Facts:    facts{says("assumed", "rim a tenth over full"), says("refill", "on"), num("run", 190, "min")},
			Excluded: nots{not(aquarium.LookFloat, num("may", 181, "l"))}}),
		proof(aquarium.DrainOverflow, "drain", ev{Sensor: "waste", Value: 341, Unit: "mm", Limit: of(360), Expected: of(200), PerHour: of(310), HarmIn: of(3.7),
			Facts: facts{says("pump", "off")}, Excluded: nots{not(aquarium.LookSplash, num("rise", 310, "mm/h"))}}),
		proof(aquarium.DrainPumpFailed, "drain", ev{Sensor: "waste", Value: 241, Unit: "mm", Limit: of(360), Expected: of(60), PerHour: of(3),
			Facts: facts{says("pump", "on"), num("run", 1, "min")}, Excluded: nots{not(aquarium.LookInflow, num("rise", 40, "mm/h"))}}),
		proof(aquarium.TemperatureHigh, "water", ev{Sensor: "water", Value: 28.4, Unit: "Cel", Limit: of(28), PerHour: of(0.31), Facts: facts{num("target", 24.5, "Cel"), says("heater", "off"), num("room", 30.2, "Cel")}}),
		proof(aquarium.TemperatureLow, "water", ev{Sensor: "water", Value: 21.7, Unit: "Cel", Limit: of(22), PerHour: of(-0.02)}),
		proof(aquarium.HeaterStuckOn, "heater", ev{Sensor: "water", Value: 25.9, Unit: "Cel", Expected: of(24.5), PerHour: of(0.4), HarmIn: of(315),
			Facts: facts{num("target", 24.5, "Cel"), says("switch", "on")}, Excluded: nots{not(aquarium.LookRoom, num("room", 21, "Cel"))}}),
		proof(aquarium.HeaterNotHeating, "heater", ev{Sensor: "water", Value: 23.1, Unit: "Cel", Expected: of(24.5), PerHour: of(-0.3), HarmIn: of(220),
			Facts: facts{num("target", 24.5, "Cel"), says("switch", "unknown")}, Excluded: nots{not(aquarium.LookRoom, num("normal", 0.11, "K/h"))}}),
		proof(aquarium.CoolingNotCooling, "cooling", ev{Sensor: "water", Value: 27.2, Unit: "Cel", Expected: of(25),
			Facts: facts{num("target", 25, "Cel"), says("switch", "off")}}),
		proof(aquarium.LightsNotOn, "lights", ev{Sensor: "lights", Facts: facts{says("hours", "10:00-18:00"), num("for", 35, "min"), num("told", 1, "")}, Excluded: nots{not(aquarium.LookClock, num("for", 35, "min"))}}),
		proof(aquarium.LightsStuckOn, "lights", ev{Sensor: "lights", Value: 1, Facts: facts{says("hours", "10:00-18:00"), num("for", 130, "min")}}),
		proof(aquarium.DoserNotDosing, "iron", ev{Sensor: "iron", Facts: facts{num("for", 1600, "min"), num("dosed", 6, "")}, Excluded: nots{not(aquarium.LookPower, says("mains", "on"))}}),
		proof(aquarium.PowerLost, "", ev{Facts: facts{num("for", 6, "min")}}),
		proof(aquarium.TankPowerLost, "", ev{Sensor: "mains", Facts: facts{num("for", 6, "min")}}),
		proof(aquarium.FloorWet, "", ev{Sensor: "wet", Value: 1, Facts: facts{num("for", 0.5, "min")}}),
		proof(aquarium.RoomCO2High, "", ev{Sensor: "room-co2", Value: 2140, Unit: "ppm", Limit: of(1500), Expected: of(420), PerHour: of(900), HarmIn: of(190)}),
		proof(aquarium.SensorSilent, "ph", ev{Sensor: "ph", Value: 6.58, Unit: "pH", LastKnown: true, Facts: facts{num("silent", 25, "min")}, Excluded: nots{not(aquarium.LookSite, num("heard", 0.2, "min"))}}),
		proof(aquarium.SensorStuck, "ph", ev{Sensor: "ph", Value: 6.58, Unit: "pH", Facts: facts{num("for", 125, "min"), num("longest", 14, "min")}}),
		proof(aquarium.SensorImplausible, "ph", ev{Sensor: "ph", Value: 7, Unit: "pH", Expected: of(6.6), Facts: facts{num("for", 21, "min"), says("valve", "open")}}),
		proof(aquarium.SensorImplausible, "ph", ev{Sensor: "ph", Value: 6.31, Unit: "pH", Facts: facts{num("for", 95, "min"), {Name: "steps", Value: -0.3, Unit: "pH", Word: "heat"}}}),
		proof(aquarium.SensorImplausible, "ph", ev{Sensor: "ph", Value: 6.58, Unit: "pH", Facts: facts{num("for", 2880, "min"), num("late", 8.4, "min"), num("normal", 2.9, "min"), says("valve", "open")}}),
		proof(aquarium.SiteSilent, "", ev{Facts: facts{num("silent", 22, "min"), num("sensors", 12, "")}}),
		proof(aquarium.GatewayClockWrong, "gw1", ev{Value: 3600, Unit: "s"}),
		proof(aquarium.UnitSuspect, "water", ev{Sensor: "water", Value: 77.4, Unit: "Cel", Expected: of(25.2), Facts: facts{says("sent", "[degF]")}}),
		proof(aquarium.Unusual, "", ev{Sensor: "flow-a", Value: 872, Unit: "l/h", Expected: of(914), Facts: facts{{Name: "apart", Value: -42, Unit: "l/h", Word: "flow-a"}, {Name: "apart", Value: 0.21, Unit: "pH", Word: "ph"},
			num("for", 190, "min"), num("days", 12, "d")}}),
		proof(aquarium.VisitUndeclared, "", ev{Facts: facts{says("signs", "filters off"), num("for", 2.5, "min"), says("doubt", "hands or socket")},
			Excluded: nots{not(aquarium.LookPower, says("mains", "on")), not(aquarium.LookStop, says("pauses", "12:30"))}}),
		proof(aquarium.VisitUndeclared, "", ev{Facts: facts{says("signs", "filters off, water out"), num("for", 18, "min")},
			Excluded: nots{not(aquarium.LookBurst, says("signs", "water came back")), not(aquarium.LookBurst, says("signs", "probe out of a full tank"))}}),
	}
	for _, c := range []aquarium.Cause{aquarium.DiskLow, aquarium.IntakeLost, aquarium.ConfigurationRefused, aquarium.NobodyReached} {
		a := proof(c, "", ev{})
		if a.Site, a.Tank = "", ""; c == aquarium.DiskLow {
			a.Evidence = ev{Value: 2.9, Unit: "GB", Limit: of(4)}
		}
		as = append(as, a)
	}
	return as
}
