package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// The delay outlasts a probe that is lifted for a moment. Common practice, no
// source.
const (
	fallSlope  = -0.3 // pH per hour, twice what a tank does by itself
	fallOn     = 5 * time.Minute
	fallAhead  = time.Hour
	fallWindow = 20 * time.Minute
)

// reaches is how many minutes it takes at the trend until the pH is at a bound
// below it; 0: it is there, nil: it does not go there.
func reaches(e *aquarium.Evidence) *float64 {
	if e.PerHour == nil || e.Limit == nil {
		return nil
	}
	if h := hoursTo(e.Value-*e.Limit, -*e.PerHour); !math.IsInf(h, 1) {
		return of(h * 60)
	}
	return nil
}

// phFalling: pH falls faster than dosing explains and will pass its bound
// within the hour. While dosing is called for, and while what it let in still
// mixes, dosing explains it; how far it may go then is co2-overshoot's to say.
func phFalling(v *view, t *tank) {
	s, key, ok := t.acid(v)
	if !ok || t.config.Limits.PH == nil {
		return
	}
	low := t.config.Limits.PH.Lo
	stood := v.stands(aquarium.PHFalling, t.config.ID, key)
	var p float64
	var sloped bool
	if stood {
		p, sloped = t.trend(s, v.now, fallWindow)
	} else {
		p, sloped = t.drop(s, v.now, fallWindow, -fallSlope*fallWindow.Hours()/2)
	}
	is := sloped && p <= fallSlope && s.value() > low && s.value()+p*fallAhead.Hours() < low
	if is && t.config.Equipment.CO2 != nil && (!t.haveShut || v.now.Sub(t.shutAt) < t.mixing() || t.stillMixes(v)) {
		is = false
	}
	if is { // and goes on, not having got there by a leap
		on, ok := t.trend(s, v.now, stuckWindow)
		is = ok && on <= fallSlope/3 && !s.leapt(v.now, fallWindow, math.Inf(1))
	}
	if stood {
		is = !sloped || p < fallSlope/3
	}
	v.find(aquarium.PHFalling, t.config.ID, finding{
		equipment: key, true: is, on: fallOn, off: phOff, worse: -s.value(), step: phStep,
		prove: func() aquarium.Evidence {
			e := t.acidEvidence(v, s, low)
			if e.HarmIn == nil {
				e.HarmIn = reaches(&e)
			}
			if t.dosed() && t.haveShut {
				e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookControl, Because: t.sinceShut(v)})
			}
			return e
		},
	})
}

// stillMixes reports whether the pH has fallen since the valve shut by no more than what
// that had let in may still bring, a filter's pause with it: a trend that began before
// is the gas's.
func (t *tank) stillMixes(v *view) bool {
	g, ok := t.gasOf(v)
	return ok && !g.fell(v, t)
}
