package web

import (
	"slices"

	"lentic/collector/aquarium"
)

// chemistry lists the causes that the CO2 estimate helps to understand.
var chemistry = map[aquarium.Cause]bool{
	aquarium.CO2Overshoot: true, aquarium.CO2ValveStuck: true, aquarium.CO2NotDosing: true, aquarium.PHFalling: true,
	aquarium.PHHigh: true, aquarium.PHLow: true, aquarium.PHProbeDrift: true,
}

// evidence lists the sensors to draw for an alarm: the one it rests on, then
// what else tells of that part of the equipment.
func evidence(t *aquarium.Tank, a aquarium.Alarm) []aquarium.SensorID {
	ids := []aquarium.SensorID{a.Evidence.Sensor}
	for _, p := range parts(t.Equipment) {
		concerns := p.Key == a.Equipment || p.Kind == "co2" && chemistry[a.Cause]
		for _, id := range p.Sensors {
			concerns = concerns || id == a.Evidence.Sensor && id != ""
		}
		if !concerns {
			continue
		}
		var more []aquarium.SensorID
		for _, id := range p.Sensors {
			more = append(more, id)
		}
		slices.Sort(more) // a map has no order of its own
		ids = append(ids, more...)
	}
	if t.Sensor(aquarium.SensorID(a.Equipment)) != nil { // the sensor causes name their sensor there
		ids = append(ids, aquarium.SensorID(a.Equipment))
	}
	var out []aquarium.SensorID
	for _, id := range ids {
		if t.Sensor(id) != nil && !slices.Contains(out, id) {
			out = append(out, id)
		}
	}
	return out
}
