package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// The deadband is five times the resolution of a usual electrode; EEMUA 191
// asks for 1 % of the range for compositions, which for a range of 4 pH is
// 0.04. The delays outlast a probe that is lifted for a moment. Common
// practice, no source.
const (
	phBack     = 0.05
	phHighOn   = 10 * time.Minute
	phLowOn    = 5 * time.Minute
	phOff      = 10 * time.Minute
	fallSlope  = -0.3 // pH per hour, twice what a tank does by itself
	fallOn     = 5 * time.Minute
	fallAhead  = time.Hour
	fallWindow = 20 * time.Minute
)

// acidSeries is the tank's pH. The key is the equipment its alarms are about.
func (t *tank) acidSeries() (s *series, key aquarium.EquipmentKey, ok bool) {
	return t.pH, t.pHOf, t.pH != nil
}

// phSeries finds it: the CO2 controller's sensor, else the first there is.
func (t *tank) phSeries() (*series, aquarium.EquipmentKey) {
	if p := t.config.Equipment.CO2; p != nil && t.sensor(p.PH) != nil {
		return t.sensor(p.PH), "co2"
	}
	for _, s := range t.order {
		if s.config.Quantity == aquarium.PH {
			return s, ""
		}
	}
	return nil, ""
}

// acid is the tank's pH now; ok is false where it is not known, or not to be
// believed, or for a day has not shown that it is.
func (t *tank) acid(v *view) (s *series, key aquarium.EquipmentKey, ok bool) {
	s, key, ok = t.acidSeries()
	return s, key, ok && s.current(v.now) && !t.inHand(v, s) && !t.doubted() && !t.scatters() &&
		!(t.dosed() && t.doubt.unproven && v.now.Sub(t.doubt.ended) < day)
}

// acidEvidence is the pH against a bound, with the story of CO2 where it is the
// controller's pH.
func (t *tank) acidEvidence(v *view, s *series, limit float64) aquarium.Evidence {
	if g, ok := t.gasOf(v); ok && g.ph == s {
		e := g.evidence(v, t)
		e.Limit = of(limit)
		return e
	}
	return aquarium.Evidence{Sensor: s.config.ID, Value: s.value(), Unit: "pH", Limit: of(limit), PerHour: t.perHour(s, v.now)}
}

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
				e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookControl, Because: lasting(FactShut, v.now.Sub(t.shutAt))})
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

// phLow: pH under the keeper's own bound for no reason named otherwise.
func phLow(v *view, t *tank) {
	if r := t.config.Limits.PH; r != nil {
		t.holdPH(v, side{cause: aquarium.PHLow, limit: r.Lo, out: -1, on: phLowOn})
	}
}

// phHigh: pH over the keeper's own bound.
func phHigh(v *view, t *tank) {
	if r := t.config.Limits.PH; r != nil {
		t.holdPH(v, side{cause: aquarium.PHHigh, limit: r.Hi, out: 1, on: phHighOn})
	}
}

func (t *tank) holdPH(v *view, b side) {
	s, key, ok := t.acid(v)
	if !ok {
		return
	}
	b.key, b.back, b.off, b.step = key, phBack, phOff, phStep
	b.hold(v, t, s, func(limit float64) aquarium.Evidence { return t.acidEvidence(v, s, limit) })
}

func blindPHBounds(t *aquarium.Tank) string {
	has := false
	for _, s := range t.Sensors {
		has = has || s.Quantity == aquarium.PH
	}
	switch {
	case !has:
		return "no pH sensor"
	case t.Limits.PH == nil:
		return "no bounds: limits.ph"
	}
	return ""
}
