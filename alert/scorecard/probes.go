package main

import (
	"lentic/collector/aquarium"
	"lentic/collector/sim"
)

func probes() []scenario {
	liar := causes{aquarium.SensorImplausible}
	quiet := causes{aquarium.SensorSilent}
	frozenPH, frozenFlow, frozenWater := of("ph", sim.SensorFrozen, 0), of("flow-a", sim.SensorFrozen, 0), of("water", sim.SensorFrozen, 0)
	return []scenario{
		{name: "pH probe shorted", causes: liar, by: implausible, from: 0, to: 16, lasts: day, grades: [3]grade{
			one("0 mV", sim.PHShorted, 0), one("0 mV", sim.PHShorted, 0), one("0 mV", sim.PHShorted, 0)}},
		{name: "pH probe unplugged", causes: liar, by: implausible, from: 0, to: 16, lasts: day, grades: [3]grade{
			one("open", sim.PHUnplugged, 0), one("open", sim.PHUnplugged, 0), one("open", sim.PHUnplugged, 0)}},
		{name: "pH probe out of the water", causes: liar, by: outOfWater, from: 0, to: 16, lasts: 2 * day, grades: [3]grade{
			one("in air", sim.PHInAir, 0), one("in air", sim.PHInAir, 0), one("in air", sim.PHInAir, 0)}},
		// Nobody was there: that it has jumped is what can be told of it.
		{name: "pH probe jumps", causes: causes{aquarium.SensorImplausible, aquarium.PHProbeDrift}, also: causes{aquarium.CO2Overshoot, aquarium.CO2ValveStuck}, by: badlyCalibrated, from: 0, to: 24, lasts: 3 * day, grades: [3]grade{
			one("0.25 up", sim.PHOffset, 0.25), one("0.4 up", sim.PHOffset, 0.4), one("0.7 up", sim.PHOffset, 0.7)}},
		{name: "current in the water moves the pH", causes: causes{aquarium.SensorImplausible, aquarium.PHProbeDrift}, by: stray, from: 0, to: 24, lasts: 2 * day, grades: [3]grade{
			one("0.15", sim.PHGround, 0.15), one("-0.3", sim.PHGround, -0.3), one("0.6", sim.PHGround, 0.6)}},
		{name: "pH probe slow", causes: causes{aquarium.PHProbeDrift, aquarium.SensorImplausible}, also: causes{aquarium.CO2Overshoot, aquarium.CO2ValveStuck}, by: slowElectrode, from: 0, to: 24, lasts: 8 * day, slow: true, grades: [3]grade{
			one("15 min", sim.PHSlow, 15), one("30 min", sim.PHSlow, 30), one("90 min", sim.PHSlow, 90)}},
		{name: "sensor frozen", causes: causes{aquarium.SensorStuck}, by: frozen, from: 8, to: 16, lasts: 6 * hour, grades: [3]grade{frozenPH, frozenFlow, frozenWater}},
		{name: "level float hangs", causes: causes{aquarium.SensorStuck, aquarium.SensorImplausible, aquarium.TopOffFailed, aquarium.Unusual, aquarium.TopOffRunaway}, by: floatHangs, from: 0, to: 24, lasts: 12 * day, slow: true, grades: [3]grade{
			one("hangs", sim.LevelStuck, 0), one("hangs", sim.LevelStuck, 0), one("hangs", sim.LevelStuck, 0)}},
		{name: "level sensor slips", causes: causes{aquarium.SensorImplausible, aquarium.Unusual, aquarium.WaterLoss, aquarium.TopOffRunaway}, by: slips, from: 0, to: 24, lasts: day, grades: [3]grade{
			one("12 mm up", sim.LevelSlipped, 12), one("12 mm down", sim.LevelSlipped, -12), one("30 mm down", sim.LevelSlipped, -30)}},
		{name: "values in another unit", causes: causes{aquarium.UnitSuspect}, also: causes{aquarium.TemperatureHigh}, by: wrongUnit, from: 0, to: 24, lasts: 4 * hour, grades: [3]grade{
			of("waste", sim.WrongUnit, 0), of("water", sim.WrongUnit, 0), of("air", sim.WrongUnit, 0)}},
		{name: "one sensor silent", causes: quiet, by: silent10, from: 0, to: 24, lasts: 2 * hour, grades: [3]grade{
			of("flow-a", sim.SensorSilent, 0), of("ph", sim.SensorSilent, 0), of("water", sim.SensorSilent, 0)}},
		{name: "whole site silent", causes: causes{aquarium.SiteSilent}, by: siteQuiet, from: 0, to: 24, lasts: 2 * hour, grades: [3]grade{
			one("silent", sim.SensorSilent, 0), one("silent", sim.SensorSilent, 0), one("silent", sim.SensorSilent, 0)}},
		{name: "gateway's clock wrong", causes: causes{aquarium.GatewayClockWrong}, also: causes{aquarium.SensorSilent, aquarium.SiteSilent}, by: wrongClock, from: 0, to: 24, lasts: 2 * hour, clock: true, grades: [3]grade{
			one("a day", sim.SensorSilent, 0), one("a day", sim.SensorSilent, 0), one("a day", sim.SensorSilent, 0)}},
		{name: "nothing: spikes of a bad contact", also: liar, from: 0, to: 24, lasts: day, grades: [3]grade{
			of("ph", sim.SensorSpikes, 0.02), of("water", sim.SensorSpikes, 0.02), of("level", sim.SensorSpikes, 0.02)}},
	}
}
