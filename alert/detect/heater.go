package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// warmth is how warm the water is against what a machine is to hold.
type warmth struct {
	water  *series
	over   float64 // K over the target
	on     bool    // as commanded
	known  bool    // somebody tells
	since  time.Duration
	target float64
}

// warmthOf is false where the water's temperature is not known now.
func (v *view) warmthOf(water *series, target float64) (w warmth, ok bool) {
	if !water.current(v.now) || target == 0 {
		return w, false
	}
	return warmth{water: water, target: target, over: water.value() - target}, true
}

// ask asks whether what should hold it is told on.
func (w *warmth) ask(v *view, toggle *series) {
	if w.on, w.known = toggle.isOn(v.now); w.known {
		w.since = v.now.Sub(toggle.since)
	}
}

// perHour is the change over the last hour.
func (w *warmth) perHour(v *view, t *tank) (float64, bool) { return t.trend(w.water, v.now, time.Hour) }

// usualRise is how quickly the water rises over its target at this time of day by
// itself, in K/h: lights and the room do that, and what brings it up to its target
// is the heater, unless it was off for all that time. It is the second quickest hour
// of the last week, for one of them may have been a visit's; 0 where it does not rise.
func (t *tank) usualRise(v *view, s *series, target float64) (usual float64) {
	most, hour, seen := 0.0, v.now.Floor(time.Hour), false
	for d := 1; d <= 7; d++ {
		for near := -1; near <= 1; near++ {
			at := hour.Add(time.Duration(near)*time.Hour - time.Duration(d)*day)
			a, b := t.hourOf(s, at.Add(-time.Hour)), t.hourOf(s, at)
			seen = seen || a.N > 0 && b.N > 0
			if a.N == 0 || b.N == 0 {
				continue
			}
			if byItself := a.Mean >= target && b.Mean >= target+risesFrom; !byItself && !(t.unheated(at.Add(-time.Hour)) && t.unheated(at)) {
				continue
			}
			if rise := b.Mean - a.Mean; rise > most {
				most, usual = rise, most
			} else {
				usual = max(usual, rise)
			}
		}
	}
	if !seen && s.value() < target+stuckClear {
		return unseenRise
	}
	return usual
}

// unheated reports whether the heater is known to have been off for a whole hour.
func (t *tank) unheated(hour aquarium.Instant) bool {
	h := t.config.Equipment.Heater
	if h == nil {
		return false
	}
	s := t.sensor(h.Switch)
	if s == nil {
		return false
	}
	is := t.hourOf(s, hour)
	return is.N > 0 && is.Mean == 0
}

// unseenRise is what lights, pumps and the room are given before a day was seen, in
// K/h, until the water is clearly over its target: 100 W in 500 l.
const unseenRise = 0.17

// risesFrom is how far over its target the water is no heater's any more that was not
// below it an hour before.
const risesFrom = 0.2 // K

// warmAgain is how long after a visit the water is still on its way: it was
// changed, and the heater was off. Common practice, no source.
const warmAgain = 75 * time.Minute

// room is the air's temperature, false where nobody tells.
func (t *tank) room(v *view) (float64, bool) {
	r := t.config.Equipment.Room
	if r == nil || !t.sensor(r.Temperature).current(v.now) {
		return 0, false
	}
	return t.sensor(r.Temperature).value(), true
}

// evidence is the water against its target, its pace and what the switch says.
func (w *warmth) evidence(v *view, t *tank, is string, isNot string) aquarium.Evidence {
	e := aquarium.Evidence{Sensor: w.water.config.ID, Value: w.water.value(), Unit: "Cel", Expected: of(w.target)}
	e.Facts = []aquarium.Fact{num(FactTarget, w.target, "Cel"), word(FactSwitch, stateWord(w.on, w.known, is, isNot))}
	p, sloped := w.perHour(v, t)
	if sloped {
		e.PerHour = of(p)
	}
	if r := t.config.Limits.Temperature; r != nil && sloped {
		e.HarmIn = until(w.water.value(), p, r.Lo, r.Hi)
	}
	if room, ok := t.room(v); ok {
		e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookRoom, Because: num(FactRoom, room, "Cel")})
	} else if sloped {
		e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookRoom, Because: num(FactNormal, t.usualRise(v, w.water, w.target), "K/h")})
	}
	return e
}

// until is how many minutes a value that changes so much an hour takes to leave
// a range; nil where it does not.
func until(value, perHour, lo, hi float64) *float64 {
	switch {
	case perHour > 0 && hi > value:
		return of((hi - value) / perHour * 60)
	case perHour < 0 && lo < value:
		return of((lo - value) / perHour * 60)
	}
	return nil
}

func blindHeater(t *aquarium.Tank) string {
	switch h := t.Equipment.Heater; {
	case h == nil:
		return "no heater under equipment"
	case t.Sensor(h.Temperature) == nil:
		return "no temperature sensor under heater"
	case h.Target == 0:
		return "no target under heater"
	}
	return ""
}
