package web

import (
	"math"

	"lentic/alert/text"
	"lentic/collector/aquarium"
)

// evidenceAnswer is what an alarm rests on as the API gives it: in numbers, and
// in the sentences of its page. What is not known is absent.
type evidenceAnswer struct {
	At        string            `json:"at,omitempty"` // when it was so, RFC 3339
	Sensor    aquarium.SensorID `json:"sensor,omitempty"`
	Value     float64           `json:"value"`
	Unit      aquarium.Unit     `json:"unit"`
	LastKnown bool              `json:"last_known,omitempty"` // the sensor has fallen silent since
	Expected  *float64          `json:"expected,omitempty"`
	Limit     *float64          `json:"limit,omitempty"`
	PerHour   *float64          `json:"per_hour,omitempty"`
	HarmIn    *float64          `json:"harm_in_min,omitempty"` // minutes after at
	Facts     []factAnswer      `json:"facts"`
	Excluded  []exclusionAnswer `json:"excluded"`
	Text      []string          `json:"text"`
}

// factAnswer has a value with its unit, or a word, or a word that says whose
// value it is.
type factAnswer struct {
	Name  string        `json:"name"`
	Value *float64      `json:"value,omitempty"`
	Unit  aquarium.Unit `json:"unit,omitempty"`
	Word  string        `json:"word,omitempty"`
}

type exclusionAnswer struct {
	What    aquarium.Lookalike `json:"what"`
	Because string             `json:"because"`
}

func evidenceOf(e aquarium.Evidence, g text.Grounds) evidenceAnswer {
	out := evidenceAnswer{Sensor: e.Sensor, Value: e.Value, Unit: e.Unit, LastKnown: e.LastKnown, Expected: finite(e.Expected), Limit: finite(e.Limit),
		PerHour: finite(e.PerHour), HarmIn: finite(e.HarmIn), Facts: []factAnswer{}, Excluded: []exclusionAnswer{}, Text: append([]string{}, g.All()...)}
	if g.At != 0 {
		out.At = rfc3339(g.At)
	}
	for _, f := range g.Facts {
		a := factAnswer{Name: f.Name, Unit: f.Unit, Word: f.Word}
		if f.Word == "" || f.Unit != "" {
			a.Value = finite(&f.Value)
		}
		out.Facts = append(out.Facts, a)
	}
	for _, x := range g.Excluded {
		out.Excluded = append(out.Excluded, exclusionAnswer{x.What, x.Because})
	}
	return out
}

// finite is x where JSON can write it.
func finite(x *float64) *float64 {
	if x == nil || math.IsNaN(*x) || math.IsInf(*x, 0) {
		return nil
	}
	return x
}
