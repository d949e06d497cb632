package main

import (
	"lentic/collector/aquarium"
	"lentic/collector/sim"
)

func gas() []scenario {
	tooMuch := causes{aquarium.CO2Overshoot, aquarium.CO2ValveStuck}
	follows := causes{aquarium.PHFalling, aquarium.PHLow} // names of the same trouble, once it goes on
	return []scenario{
		{name: "CO2 valve stuck open by day", causes: tooMuch, also: follows, by: overshoot, from: 9.5, to: 16, lasts: 8 * hour, grades: [3]grade{
			one("0.5 of the flow", sim.CO2StuckOpen, 0.5), one("the flow", sim.CO2StuckOpen, 1), one("2.5 times", sim.CO2StuckOpen, 2.5)}},
		{name: "CO2 valve stuck open by night", causes: tooMuch, also: follows, by: overshoot, from: 21, to: 28, lasts: 8 * hour, grades: [3]grade{
			one("0.5 of the flow", sim.CO2StuckOpen, 0.5), one("the flow", sim.CO2StuckOpen, 1), one("2.5 times", sim.CO2StuckOpen, 2.5)}},
		{name: "CO2 valve leaks when shut", causes: tooMuch, also: follows, by: overshoot, from: 10, to: 16.9, lasts: 8 * hour, grades: [3]grade{
			one("0.6 of the flow", sim.CO2Leak, 0.6), one("0.8", sim.CO2Leak, 0.8), one("the flow", sim.CO2Leak, 1)}},
		{name: "CO2 commanded open", causes: tooMuch, also: follows, by: overshoot, from: 9.5, to: 16, lasts: 8 * hour, grades: [3]grade{
			one("the flow", sim.CO2CommandedOpen, 1), one("twice", sim.CO2CommandedOpen, 2), one("3 times", sim.CO2CommandedOpen, 3)}},
		{name: "CO2 surge at the cylinder's end", causes: tooMuch, also: follows, by: overshoot, from: 7, to: 14, lasts: 12 * hour, grades: [3]grade{
			one("12 times", sim.CO2Surge, 12), one("18 times", sim.CO2Surge, 18), one("30 times", sim.CO2Surge, 30)}},
		{name: "CO2 cylinder empty", causes: causes{aquarium.CO2NotDosing}, by: notDosing, from: 0, to: 16, lasts: 2 * day, grades: [3]grade{
			one("empty", sim.CO2CylinderEmpty, 0), one("empty", sim.CO2CylinderEmpty, 0), one("empty", sim.CO2CylinderEmpty, 0)}},
		{name: "CO2 valve shut by hand", causes: causes{aquarium.CO2NotDosing}, by: notDosing, from: 8, to: 16, lasts: 2 * day, grades: [3]grade{
			one("shut", sim.CO2ShutByHand, 0), one("shut", sim.CO2ShutByHand, 0), one("shut", sim.CO2ShutByHand, 0)}},
		{name: "CO2 line blocks slowly", causes: causes{aquarium.CO2NotDosing}, by: notDosing, from: 0, to: 16, lasts: 8 * day, grades: [3]grade{
			one("0.2 a day", sim.CO2LineBlocked, 0.2), one("0.4 a day", sim.CO2LineBlocked, 0.4), one("1 a day", sim.CO2LineBlocked, 1)}},
		{name: "pH probe drifts high", causes: causes{aquarium.PHProbeDrift}, also: tooMuch, by: drift, from: 0, to: 24, lasts: 16 * day, slow: true, grades: [3]grade{
			one("0.015 a day", sim.PHDrift, 0.015).kept(), one("0.03 a day", sim.PHDrift, 0.03), one("0.06 a day", sim.PHDrift, 0.06)}},
		{name: "pH probe drifts low", causes: causes{aquarium.PHProbeDrift}, by: drift, from: 0, to: 24, lasts: 16 * day, slow: true, grades: [3]grade{
			one("0.015 a day", sim.PHDrift, -0.015).kept(), one("0.03 a day", sim.PHDrift, -0.03), one("0.06 a day", sim.PHDrift, -0.06)}},
		// That it came back to another pH than it had left, which no water does, is true too.
		{name: "pH probe badly calibrated", causes: causes{aquarium.PHProbeDrift}, also: append(causes{aquarium.SensorImplausible}, tooMuch...), by: badlyCalibrated, from: 0, to: 24, lasts: 3 * day, grades: [3]grade{
			calibrated("0.25 high", 0.25), calibrated("0.3 high", 0.3), calibrated("0.4 high", 0.4)}},
		{name: "alkalinity crashes", causes: causes{aquarium.PHProbeDrift}, also: causes{aquarium.PHLow, aquarium.PHFalling}, by: alkalinityGone, from: 0, to: 24, lasts: 10 * day, slow: true, grades: [3]grade{
			one("0.2 dKH a day", sim.KHCrash, 0.2), one("0.4 dKH a day", sim.KHCrash, 0.4), one("0.8 dKH a day", sim.KHCrash, 0.8)}},
		{name: "CO2 in the room", causes: causes{aquarium.RoomCO2High}, also: causes{aquarium.PHLow, aquarium.PHFalling, aquarium.PHProbeDrift, aquarium.CO2Overshoot}, by: badAir, from: 0, to: 24, lasts: 3 * hour, grades: [3]grade{
			one("5500 ppm", sim.RoomCO2, 5100), one("8000 ppm", sim.RoomCO2, 7600), one("30000 ppm", sim.RoomCO2, 30000)}},
	}
}
