package daemon

import (
	"lentic/alert/text"
	"lentic/collector/aquarium"
)

// Explained is what an alarm rests on, in numbers for programs and in sentences for
// people. Numbers are in the line's unit; what is not known is left out.
type Explained struct {
	Sensor     aquarium.SensorID `json:"sensor,omitempty"`
	Expected   *float64          `json:"expected,omitempty"`
	Difference *float64          `json:"difference,omitempty"` // the value less what was expected
	Limit      *float64          `json:"limit,omitempty"`
	PerHour    *float64          `json:"per_hour,omitempty"`
	HarmInMin  *float64          `json:"harm_in_min,omitempty"`
	Facts      []aquarium.Fact   `json:"facts,omitempty"`
	Excluded   []RuledOut        `json:"excluded,omitempty"`
	Lines      []string          `json:"lines,omitempty"` // all of it as sentences
}

// RuledOut is a lookalike and the number or word that rules it out.
type RuledOut struct {
	What    aquarium.Lookalike `json:"what"`
	Because aquarium.Fact      `json:"because"`
}

func explained(a aquarium.Alarm, s aquarium.Site) *Explained {
	e, g := a.Evidence, text.GroundsOf(a, s)
	x := &Explained{Sensor: e.Sensor, Expected: e.Expected, Limit: e.Limit, PerHour: e.PerHour, HarmInMin: e.HarmIn, Facts: g.Facts, Lines: g.All()}
	if e.Expected != nil {
		d := e.Value - *e.Expected
		x.Difference = &d
	}
	for _, r := range e.Excluded {
		x.Excluded = append(x.Excluded, RuledOut(r))
	}
	return x
}
