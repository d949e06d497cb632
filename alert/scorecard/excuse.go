package main

import (
	"math"

	"lentic/collector/aquarium"
)

// excused reports whether what is told is true of the tank itself, whatever the
// trial is about: such an alarm is neither false nor a wrong name.
func excused(c aquarium.Cause, m moment) bool {
	x, l, e := m.truth, m.config.Limits, m.config.Equipment
	switch c {
	case aquarium.TemperatureHigh:
		return l.Temperature != nil && x.Temperature > l.Temperature.Hi-0.2
	case aquarium.TemperatureLow:
		return l.Temperature != nil && x.Temperature < l.Temperature.Lo+0.2
	case aquarium.PHLow, aquarium.PHFalling:
		return l.PH != nil && x.PH < l.PH.Lo+0.1
	case aquarium.PHHigh:
		return l.PH != nil && x.PH > l.PH.Hi-0.05
	case aquarium.CO2Overshoot:
		return e.CO2 != nil && (x.PH < e.CO2.Target-0.18 || l.CO2 > 0 && x.CO2 > 0.95*l.CO2) // to two steps of a pH meter
	case aquarium.CO2NotDosing: // as with a cylinder that has run out
		return x.ValveOpen && x.Gas < 0.1
	case aquarium.PHProbeDrift:
		// Error of the electrode and change of alkalinity look the same.
		return math.Abs(x.PHShown-x.PH)+math.Abs(math.Log10(x.KH/m.config.AlkalinityDKH)) > 0.12
	case aquarium.ReservoirLow:
		return e.Reservoir != nil && x.ReservoirL < 0.35*e.Reservoir.CapacityL
	case aquarium.FloorWet:
		return x.Water.Leaked+x.Water.Spilled > 0
	case aquarium.FilterClogging:
		for _, f := range e.Filters {
			if m.tank.Filter(f.ID).Share < 0.82 {
				return true
			}
		}
	}
	return false
}
