package wire

import (
	"fmt"
	"slices"
	"strings"

	"lentic/collector/aquarium"
)

// unit is what a value without a unit is in.
func (s *sensor) unit() aquarium.Unit {
	switch {
	case s.Unit != "":
		return s.Unit
	case s.Counter:
		return "count"
	case s.levelAsVolume():
		return aquarium.Level.Unit()
	}
	return s.Quantity.Unit()
}

func (s *sensor) levelAsVolume() bool {
	return s.LitresPerMM != 0 && s.Quantity == aquarium.Volume
}

// accepts refuses a unit the sensor is not taken in. A counter counts pulses
// or, for a flow, litres; a level used as a volume comes in units of level.
func (s *sensor) accepts(u aquarium.Unit) *refusal {
	want := s.Quantity.Units()
	switch {
	case s.Quantity == aquarium.Number, u == s.unit():
		return nil
	case s.Counter:
		want = []aquarium.Unit{"count", ""}
		if s.Quantity == aquarium.Flow {
			want = append(want, aquarium.Volume.Units()...)
		}
	case s.levelAsVolume():
		want = append(aquarium.Level.Units(), want...)
	}
	if slices.Contains(want, u) {
		return nil
	}
	return refuse(aquarium.ReasonUnit, "sensor %q: unit %q for %s: want %s", s.ID, cut(string(u)), s.Quantity, unitList(want))
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
func (s *sensor) kind(r *Record) *refusal {
	if why := kindOf(r); why != nil {
		why.detail = fmt.Sprintf("sensor %q: %s", s.ID, why.detail)
		return why
	}
	if r.Kind == Boolean && s.Quantity != aquarium.Switch {
		return refuse(aquarium.ReasonKind, "sensor %q: vb is for switches: send v for %s", s.ID, s.Quantity)
	}
	return nil
}

// kindOf refuses what no sensor of ours can have.
func kindOf(r *Record) *refusal {
	switch r.Kind {
	case Text:
		return refuse(aquarium.ReasonKind, "vs is text: send a number as v")
	case Data:
		return refuse(aquarium.ReasonKind, "vd is data: send a number as v")
	case SumOnly:
		return refuse(aquarium.ReasonKind, "s is a sum: send the value as v, or a running total as v to a counter")
	case Several:
		return refuse(aquarium.ReasonKind, "the record has more than one value: send one of v and vb")
	case NoValue:
		return refuse(aquarium.ReasonValue, "the record has no value: send v")
	}
	return nil
}
