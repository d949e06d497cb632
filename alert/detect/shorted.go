package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// A shorted electrode lies at 7. Where it comes there by too little to be doubted for its
// step, it is told by lying there while gas is asked for, which would have moved it.
// Common practice, no source.
const (
	// shortedOver is for how long it must have lain there after a small step, and
	// shortedAsked for how long gas has been asked for.
	shortedOver  = 40 * time.Minute
	shortedAsked = 20 * time.Minute
	// One that is shorted while the night's pH passes 7 makes no step: it is told by
	// lying there before gas is asked for, for shortedLain, where the night before came
	// to something else, and by not answering the gas then.
	shortedLain = time.Hour
	shortedAway = 0.1 // pH
	// Nor does one that is shorted while the morning's passes 7. Of water whose gas stops
	// just then the pH goes on down as it mixes, turns and rises, by 0.04 an hour at the
	// least: within stopsOver that leaves no thirds that lie so near to each other, and
	// few of those lie so near to 7. It must be told within half an hour, where gas that
	// comes as it does would have brought the pH down by stopsComes.
	stopsOver  = 24 * time.Minute
	stopsNear  = 0.01  // pH
	stopsMoves = 0.005 // pH
	stopsComes = 0.05  // pH
	stopsSteps = 0.03  // pH from one reading to another: a coarser meter hides all that
)

// doubtZero begins to doubt a pH that came to 7, where a shorted electrode
// lies, by too little to be doubted for that, and stays there though gas has been
// asked for.
func (t *tank) doubtZero(v *view, s *series) {
	d, asked := &t.doubt, t.dosing.asked
	if d.since != 0 || d.lain == 0 || asked == 0 || v.now.Sub(asked) < shortedAsked || !s.current(v.now) {
		return
	}
	before, over, is := t.dosing.from, stopsOver, t.stopsAtZero(v, s)
	if !is {
		over = shortedOver
		before, is = t.liesAtZero(v)
	}
	if !is {
		return
	}
	if low, high := extremes(s.held(v.now, over)); high-low <= shortedFlat {
		d.start(max(asked, d.lain), low, high)
		d.from, d.shorted = before, true
	}
}

// liesAtZero reports whether the pH has lain at 7 for long, and what it was before.
func (t *tank) liesAtZero(v *view) (before float64, is bool) {
	d, asked := &t.doubt, t.dosing.asked
	if v.now.Sub(d.lain) < shortedOver {
		return 0, false
	}
	if d.zero != 0 {
		return d.before, true
	}
	night, ok := t.lastNight(v)
	return night, ok && asked.Sub(d.lain) >= shortedLain && math.Abs(night-shortedAt) >= shortedAway
}

// stopsAtZero reports whether the pH has come down to 7 with the gas that came and stands
// there as no water does, whether the gas has stopped or not.
func (t *tank) stopsAtZero(v *view, s *series) bool {
	part, d, k := t.config.Equipment.CO2, &t.dosing, &t.learned.Vigour
	switch {
	case v.now.Sub(t.doubt.lain) < stopsOver || v.now.Sub(d.asked) < stopsOver || v.now.Sub(d.last) >= pulse:
		return false
	case part.Target <= 0 || shortedAt <= part.Target+part.Band+vainAbove || d.from-shortedAt < vainEnds || len(k.Rates) < vigourLeast:
		return false
	case v.stands(aquarium.CO2NotDosing, t.config.ID, "co2"): // what hardly comes may just hold it there
		return false
	}
	if math.Log10(1+math.Pow(10, k.Rate+shortedAt)*stopsOver.Hours()) < stopsComes {
		return false
	}
	ps := s.held(v.now, stopsOver)
	n := len(ps) / 3
	if n < 4 || ps[len(ps)-1].at.Sub(ps[0].at) < stopsOver*3/4 {
		return false
	}
	a, b, c := mean(ps[:n]), mean(ps[n:len(ps)-n]), mean(ps[len(ps)-n:])
	low, high := min(a, b, c), max(a, b, c)
	return high-low <= stopsMoves && max(high-shortedAt, shortedAt-low) <= stopsNear && finer(s.held(v.now, rampMost), stopsSteps)
}

// finer reports whether a reading has followed another by less than a step.
func finer(ps []point, step float64) bool {
	for i := 1; i < len(ps); i++ {
		if by := math.Abs(ps[i].v - ps[i-1].v); by > 0 && by < step {
			return true
		}
	}
	return false
}

// lastNight is the pH that the night came to before the last morning's gas, false where
// there was none within Memory, or the electrode was in hand since: what weeks have
// come to may be long past where no gas has come since.
func (t *tank) lastNight(v *view) (float64, bool) {
	at, night := t.dosing.morning.At, t.dosing.morning.Plateau
	if k := t.learned.Drift; k != nil && k.Through > at {
		at, night = k.Through, k.Plateau.Prior
	}
	handled := max(t.calibrated(v), t.calibrations.at)
	return night, at != 0 && v.now.Sub(at) <= Memory && at > handled
}
