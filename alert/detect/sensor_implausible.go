package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// A probe that is held in a buffer or in the air for a moment is no broken one;
// a controller that doses by what cannot be must be known of within 30 min, so
// twenty are left to the hands. Water with fish in it stays within these bounds;
// beyond them no jump need have been seen. Common practice, no source.
const (
	implausibleOn  = 20 * time.Minute
	implausibleOff = 10 * time.Minute
	// One that somebody has just had in his hands is given what is left of the half
	// hour: it is believed after a quarter of one, if nothing begins that anew.
	implausibleLeft = 28 * time.Minute
	leastWaterPH    = 4.5
	mostWaterPH     = 9.5
)

// sensorImplausible: values the water can't have, a jump that no water makes, or
// nothing but readings that cannot be counted.
func sensorImplausible(v *view, t *tank) {
	acid, _, _ := t.acidSeries()
	for _, s := range t.order {
		if s.refused.since == 0 && s != acid && s != t.level && !s.spoken(ofImplausible) {
			continue // as nearly always
		}
		since, why := s.refusedSince()
		if why == aquarium.Frozen {
			since = 0 // sensor-stuck tells that
		} else if since != 0 && s.refused.n >= unitLeast {
			if _, _, is := t.inAnotherUnit(v, s, s.refused.value); is {
				since = 0 // unit-suspect does
			}
		}
		if since != 0 && !s.lasts(s.refused.last, v.now) {
			continue // one strange reading and then silence is silence
		}
		if s == acid && since == 0 && !t.visited {
			since = t.impossible(v, s)
		}
		late := aquarium.Instant(0)
		if s == acid && since == 0 {
			late = t.lateSince()
			since = late
		}
		if s == t.level && since == 0 && t.vessel.scaled.at == 0 {
			since = t.vessel.slip.at
		}
		if since == 0 && (!s.spoken(ofImplausible) || !s.current(v.now)) {
			continue
		}
		s.speak(ofImplausible, since != 0)
		on := implausibleOn
		if s == acid && since != 0 && since == t.doubt.since && since == t.doubt.left {
			on = implausibleLeft
		}
		v.find(aquarium.SensorImplausible, t.config.ID, finding{
			equipment: aquarium.EquipmentKey(s.config.ID), true: since != 0, since: since, on: on, off: implausibleOff,
			priority: t.doubtful(late != 0),
			prove:    func() aquarium.Evidence { return t.implausible(v, s, since) },
		})
	}
}

// doubtful is how urgent it is: an electrode that is just late harms nobody until
// the next visit.
func (t *tank) doubtful(late bool) aquarium.Priority {
	if late {
		return aquarium.Low
	}
	return t.config.Priority(aquarium.SensorImplausible)
}

// impossible is since when the pH is not one of water, 0 where it may be.
func (t *tank) impossible(v *view, s *series) aquarium.Instant {
	calibrated := bufferMost
	if c := t.config.Equipment.CO2; t.dosed() && (c.Hours == nil || c.Hours.Contains(t.clock)) && math.Abs(s.value()-c.Target) >= bufferAway {
		calibrated = bufferDosed
	}
	switch {
	case t.doubt.hops.since != 0:
		return t.doubt.hops.since
	case t.doubt.inBuffers(v.now, calibrated) && !v.stands(aquarium.SensorImplausible, t.config.ID, aquarium.EquipmentKey(s.config.ID)):
		return 0
	case t.doubted():
		return t.doubt.since
	case !s.current(v.now):
		return 0
	case s.value() < leastWaterPH || s.value() > mostWaterPH:
		since, _ := s.run(func(v float64) bool { return v < leastWaterPH || v > mostWaterPH })
		return max(since, 1)
	}
	return 0
}

// extremes are the lowest and the highest of the points, of which there are some.
func extremes(ps []point) (low, high float64) {
	low, high = ps[0].v, ps[0].v
	for _, p := range ps {
		low, high = min(low, p.v), max(high, p.v)
	}
	return low, high
}

func (t *tank) implausible(v *view, s *series, since aquarium.Instant) aquarium.Evidence {
	e := aquarium.Evidence{Sensor: s.config.ID, Unit: s.config.Quantity.Unit()}
	switch {
	case s.refused.n > 0:
		e.Value = s.refused.value
	case len(s.points) > 0:
		e.Value = s.value()
	}
	if since != 0 {
		e.Facts = append(e.Facts, lasting(FactFor, v.now.Sub(since)))
		if !t.visited { // hands would be done with it by now
			e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookVisit, Because: lasting(FactFor, v.now.Sub(since))})
		}
		if t.doubted() && since == t.doubt.since {
			e.Expected = of(t.doubt.from)
		}
		if x := &t.vessel.slip; s == t.level && since == x.at {
			e.Facts = append(e.Facts, num(FactMoved, x.by, "mm"))
		}
	}
	if load, by, ok := t.screen.Stepping(s.config.ID); ok && since != 0 {
		e.Facts = append(e.Facts, aquarium.Fact{Name: FactSteps, Value: by, Unit: s.config.Quantity.Unit(), Word: string(load)})
	}
	if usual, ok := t.learned.Lateness.usual(); ok && since != 0 && since == t.lateSince() {
		e.Facts = append(e.Facts, num(FactLate, t.learned.Lateness.Last, "min"), num(FactNormal, usual, "min"))
	}
	if t.dosed() {
		if on, known := t.on(t.config.Equipment.CO2.Valve, v.now); s.config.ID == t.config.Equipment.CO2.PH {
			e.Facts = append(e.Facts, word(FactValve, stateWord(on, known, "open", "shut")))
		}
	}
	return e
}

// dosed reports whether the tank doses CO2.
func (t *tank) dosed() bool { return t.config.Equipment.CO2 != nil }
