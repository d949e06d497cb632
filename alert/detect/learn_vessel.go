package detect

import (
	"slices"

	"lentic/collector/aquarium"
)

// Vessel is what has been learned of a tank's water and its stores, by the day.
type Vessel struct {
	Evaporation []Evaporation      `json:"evaporation,omitempty"`
	Lowest      []float64          `json:"lowest,omitempty"`    // ten-minute mean of the level each day, mm
	Uppermost   []float64          `json:"uppermost,omitempty"` // likewise
	Refills     []Refill           `json:"refills,omitempty"`   // the last of each day that had one
	Starts      []float64          `json:"starts,omitempty"`    // where fillings began that nobody had drawn for, likewise, l
	Started     []aquarium.Instant `json:"started,omitempty"`   // when those were
	Highest     []float64          `json:"highest,omitempty"`   // five-minute mean of the store each day, l
	Rests       []float64          `json:"rests,omitempty"`     // the lowest that it stood still at each day without being filled, l
	Wavers      []wavered          `json:"wavers,omitempty"`    // what the level's readings err by together each day
	Fills       []float64          `json:"fills,omitempty"`     // how fast a change of water brought the level back, mm/h
}

const (
	vesselDays   = 28
	refillsKept  = 12
	fillsKept    = 6
	wholeEnough  = 6.0 // hours of a day at rest that tell its evaporation
	mostLearnedH = 3.0 // l/h: more is no evaporation of a display tank
)

// learnVessel takes a day in. A day on which water was lost, or the top-off
// failed, is no rule for others.
func learnVessel(v *view, t *tank, l *Learned) {
	d, ok := t.vessel.dayAt(l.Through.Add(-day))
	if !ok {
		return
	}
	lost := v.stands(aquarium.WaterLoss, t.config.ID, "")
	x := &l.Vessel
	switch {
	case lost, t.vessel.hung.missing(t) >= hungDoubt:
	case d.hours >= wholeEnough:
		e := Evaporation{LitresH: digits(min(mostLearnedH, d.litres/d.hours))}
		if d.modelled >= d.hours/2 {
			e.Model = digits(d.model / d.modelled)
		}
		x.Evaporation = add(x.Evaporation, e, vesselDays)
	case d.span > wholeEnough:
		x.Evaporation = add(x.Evaporation, Evaporation{LitresH: digits(min(mostLearnedH, d.added/d.span))}, vesselDays)
	}
	if d.hours > 0 && !lost && !v.stands(aquarium.TopOffFailed, t.config.ID, "top_off") {
		x.Lowest = add(x.Lowest, digits(d.lowest), vesselDays)
	}
	if d.hours > 0 { // a pump that stops too late each day is no runaway: upperEnd bounds how late
		x.Uppermost = add(x.Uppermost, digits(d.uppermost), vesselDays)
	}
	if w := &t.vessel.waver; w.short.noise > 0 {
		x.Wavers = add(x.Wavers, wavered{digits(w.short.noise), digits(w.long.noise)}, waveredDays)
	}
	slow := v.stands(aquarium.ReservoirNotRefilling, t.config.ID, "reservoir") && len(x.Refills) >= slowLearned
	if d.refill.LitresH > 0 && !slow { // the first are what it makes, whatever is configured
		x.Refills = add(x.Refills, d.refill, refillsKept)
	}
	if d.start > 0 && !slow {
		x.Starts = add(x.Starts, d.start, refillsKept)
		x.Started = add(x.Started, d.started, refillsKept)
	}
	if d.rest > 0 && (d.start > 0 || t.vessel.call.since == 0 && !v.stands(aquarium.ReservoirNotRefilling, t.config.ID, "reservoir")) { // a float set lower calls lower
		x.Rests = add(x.Rests, digits(d.rest), vesselDays)
	}
	if d.fill > 0 {
		x.Fills = add(x.Fills, digits(d.fill), fillsKept)
	}
	if d.highest > 0 && !v.stands(aquarium.ReservoirOverfull, t.config.ID, "reservoir") {
		x.Highest = add(x.Highest, digits(d.highest), vesselDays)
	}
}

// add is xs and one more, the oldest given up beyond the number kept.
func add[T any](xs []T, x T, keep int) []T {
	return append(slices.Clone(last(xs, keep-1)), x)
}
