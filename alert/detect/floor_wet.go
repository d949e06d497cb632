package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// Two readings or twenty seconds tell water from a foot on the sensor; it has
// to be dry for some minutes, for a mop leaves puddles. Common practice, no
// source.
const (
	wetOn  = 20 * time.Second
	wetOff = 3 * time.Minute
)

// floorWet: water on the floor, danger to people first.
func floorWet(v *view, t *tank) {
	p := t.config.Equipment.Floor
	if p == nil {
		return
	}
	s := t.parts.wet
	wet, known := s.isOn(v.now)
	if !known || !wet && v.unheard(aquarium.FloorWet, t.config.ID, "floor") {
		return
	}
	f := finding{equipment: "floor", true: wet, on: wetOn, off: wetOff, prove: func() aquarium.Evidence {
		return aquarium.Evidence{Sensor: p.Wet, Value: 1, Facts: []aquarium.Fact{lasting(FactFor, v.now.Sub(s.since))}}
	}}
	if n := len(s.points); wet && n >= 2 && s.points[n-2].v >= 0.5 && s.points[n-2].at >= s.since {
		f.on = 0
	}
	v.find(aquarium.FloorWet, t.config.ID, f)
}

func blindFloor(t *aquarium.Tank) string {
	if p := t.Equipment.Floor; p == nil || t.Sensor(p.Wet) == nil {
		return "no floor sensor under equipment"
	}
	return ""
}
