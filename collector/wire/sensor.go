package wire

import (
	"fmt"
	"slices"
	"strings"

	"lentic/collector/aquarium"
)

// sensor is a configured sensor, its full name, and the units it is taken in.
type sensor struct {
	key aquarium.SensorKey
	aquarium.Sensor
	unit  aquarium.Unit   // what a value without a unit is in
	units []aquarium.Unit // what it may be in, beside any for a number
}

func newSensor(key aquarium.SensorKey, s aquarium.Sensor) *sensor {
	return &sensor{key: key, Sensor: s, unit: plainUnit(&s), units: unitsOf(&s)}
}

func plainUnit(s *aquarium.Sensor) aquarium.Unit {
	switch {
	case s.Unit != "":
		return s.Unit
	case s.Counter:
		return "count"
	case levelAsVolume(s):
		return aquarium.Level.Unit()
	}
	return s.Quantity.Unit()
}

func levelAsVolume(s *aquarium.Sensor) bool {
	return s.LitresPerMM != 0 && s.Quantity == aquarium.Volume
}

// unitsOf: a counter counts pulses or, for a flow, litres; a level used as a
// volume comes in units of level too.
func unitsOf(s *aquarium.Sensor) []aquarium.Unit {
	switch {
	case s.Counter && s.Quantity == aquarium.Flow:
		return append([]aquarium.Unit{"count", ""}, aquarium.Volume.Units()...)
	case s.Counter:
		return []aquarium.Unit{"count", ""}
	case levelAsVolume(s):
		return append(aquarium.Level.Units(), aquarium.Volume.Units()...)
	}
	return s.Quantity.Units()
}

// accepts refuses a unit the sensor is not taken in.
func (s *sensor) accepts(u aquarium.Unit) *refusal {
	if s.Quantity == aquarium.Number || u == s.unit || slices.Contains(s.units, u) {
		return nil
	}
	return refuse(aquarium.ReasonUnit, "sensor %q: unit %q for %s: want %s", s.ID, cut(string(u)), s.Quantity, unitList(s.units))
}

func unitList(us []aquarium.Unit) string {
	var words []string
	for _, u := range us {
		if u == "" {
			words = append(words, "none")
			continue
		}
		words = append(words, string(u))
	}
	return strings.Join(words, ", ")
}

// kind refuses a record whose value is not of the sort the sensor has.
func (s *sensor) kind(r *record) *refusal {
	if why := kindOf(r); why != nil {
		why.detail = fmt.Sprintf("sensor %q: %s", s.ID, why.detail)
		return why
	}
	if r.kind == boolean && s.Quantity != aquarium.Switch {
		return refuse(aquarium.ReasonKind, "sensor %q: vb is for switches: send v for %s", s.ID, s.Quantity)
	}
	return nil
}

// kindOf refuses what no sensor of ours can have.
func kindOf(r *record) *refusal {
	switch r.kind {
	case textual:
		return refuse(aquarium.ReasonKind, "vs is text: send a number as v")
	case opaque:
		return refuse(aquarium.ReasonKind, "vd is data: send a number as v")
	case sumOnly:
		return refuse(aquarium.ReasonKind, "s is a sum: send the value as v, or a running total as v to a counter")
	case several:
		return refuse(aquarium.ReasonKind, "the record has more than one value: send one of v and vb")
	case noValue:
		return refuse(aquarium.ReasonValue, "the record has no value: send v")
	}
	return nil
}
