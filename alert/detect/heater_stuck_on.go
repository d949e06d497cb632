package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// A heater that sticks must be told before the water is 1.5 over its target, and
// one of a watt a litre gets there in two hours. A controller swings by some
// tenths of a degree around the target, so half a degree over it with nothing to
// warm the water is a question, and the answer is how fast it goes on: a warm
// room takes a day for what a heater does in an hour. Common practice, no source.
const (
	stuckOver   = 0.6  // K over the target, with the heater told off
	stuckUnseen = 0.8  // ... where no switch tells
	warmRise    = 0.15 // K/h more than is usual at this hour
	warmSeen    = 0.1  // ... where the room is seen to be cooler than the water
	coolRoom    = 1.5  // K
	hotRise     = 0.3  // ... where the room is as warm as the water, whose evaporation cools it less on a close day
	hotClear    = 0.2  // ... at stuckClear, for which a room takes days
	roomRise    = 0.05 // K/h for each K by which the room is warmer: a time constant of 20 h, and display tanks have twice that
	toldOnOver  = 0.7  // commanded on though it is so warm
	stuckSettle = 20 * time.Minute
	stuckClear  = 1.0 // K over the target: then what the room does not explain is enough
	stuckExcess = 0.5 // K more above the room than it has been in a week
	stuckVisit  = 30 * time.Minute
	// Nobody tells of the room: then it may be the room, for as long as there are
	// hours left before 1.5 over the target, and at the last moment before that it is not.
	stuckTold   = 1.5
	stuckSoon   = 2 * time.Hour
	stuckLate   = 1.3
	stuckCreep  = 0.1 // K/h
	neededHours = 2.5 // of the last 24
	// After midnight water over its target cools, but for a heater: of a hot day the room
	// keeps something through the evening, and no room turns so much warmer within a day as
	// a heater's share of a night before was worth.
	darkHours     = 3
	darkTo        = 8 * 60
	darkRise      = 0.05 // K in that time
	darkShare     = 0.1  // of these hours, a night or two before
	stuckWarmOn   = 5 * time.Minute
	stuckWarmOff  = 20 * time.Minute
	stuckWarmBack = 0.3 // K over the target: it is over then
)

// heaterStuckOn: the water is warmed though its heater should be off.
func heaterStuckOn(v *view, t *tank) {
	h := t.config.Equipment.Heater
	if h == nil {
		return
	}
	w, ok := v.warmthOf(t.parts.heated, h.Target)
	if !ok || w.over < stuckOver && v.unheard(aquarium.HeaterStuckOn, t.config.ID, "heater") || t.disturbed(v, warmAgain) && !w.warmedSince(v, t) {
		return
	}
	w.ask(v, t.parts.heater)
	is := false
	if v.stands(aquarium.HeaterStuckOn, t.config.ID, "heater") {
		p, sloped := w.perHour(v, t)
		is = w.over > stuckWarmBack && (!sloped || p > -warmRise/2)
	} else if w.over >= stuckOver {
		is = w.warmed(v, t)
	}
	v.find(aquarium.HeaterStuckOn, t.config.ID, finding{
		equipment: "heater", true: is, on: stuckWarmOn, off: stuckWarmOff, worse: w.over, step: warmthStep,
		prove: func() aquarium.Evidence { return w.evidence(v, t, "on", "off") },
	})
}

// warmedSince reports whether the water has gone on to warm, as a heater does, for half
// an hour since a visit, and is clearly over its target: what was poured in is mixed
// within minutes and cools from then on.
func (w *warmth) warmedSince(v *view, t *tank) bool {
	if w.over < stuckClear || t.disturbed(v, stuckVisit) {
		return false
	}
	p, sloped := t.trend(w.water, v.now, stuckVisit)
	return sloped && p >= t.usualRise(v, w.water, w.target)+hotRise
}

// warmed reports whether something warms the water that nothing but the heater
// explains.
func (w *warmth) warmed(v *view, t *tank) bool {
	if w.known && w.on {
		return w.over >= toldOnOver && w.since >= stuckSettle
	}
	if t.signs.first[waterOut] != 0 {
		return false // the same lights and pumps warm what is left in less time, and hands bring the rest
	}
	if w.known && w.since < stuckSettle || !w.known && w.over < stuckUnseen {
		return false
	}
	room, seen := t.room(v)
	p, sloped := w.perHour(v, t)
	if sloped && p >= 0 && !(seen && room > w.water.value()-coolRoom) && w.risesInTheDark(v, t) {
		return true // slower than a line through an hour of coarse readings shows
	}
	if seen && w.staysInTheDark(v, t) {
		return true
	}
	if !sloped || p <= 0 {
		return false
	}
	if warmer := room - w.water.value(); seen && warmer > -0.5 { // the room is as warm, and heats it, but slowly
		least := hotRise
		if w.over >= stuckClear {
			least = hotClear
		}
		return p >= t.usualRise(v, w.water, w.target)+least+max(warmer, 0)*roomRise
	}
	least := warmRise
	if seen && room < w.water.value()-coolRoom {
		least = warmSeen
	}
	usual := t.usualRise(v, w.water, w.target)
	if (seen || w.over+p*stuckSoon.Hours() >= stuckTold) && p >= usual+least {
		return seen || !t.siteWarms(v, p-usual) && !w.dayWarms(v, t, p)
	}
	if !seen && w.over >= stuckLate && p >= stuckCreep && w.needed(v, t) {
		return true
	}
	return seen && w.over >= stuckClear && w.water.value()-room >= t.aboveRoom(v, w.water)+stuckExcess
}

// risesInTheDark reports whether the water has risen for hours after midnight, in the
// dark and with the heater told off, at hours at which it took the heater to hold it a
// night or two before.
func (w *warmth) risesInTheDark(v *view, t *tank) bool {
	const hours = darkHours * time.Hour
	if !w.known || w.since < hours+time.Hour || !t.longDark() {
		return false
	}
	first := v.now.Floor(time.Hour).Add(-hours)
	before := 0.0
	for i := range darkHours {
		h := t.hourOf(w.water, first.Add(time.Duration(i)*time.Hour))
		if h.N == 0 || h.Mean < before {
			return false
		}
		before = h.Mean
	}
	if before-t.hourOf(w.water, first).Mean < darkRise {
		return false
	}
	s := t.sensor(t.config.Equipment.Heater.Switch)
	for night := 1; night <= 2; night++ {
		on := 0.0
		for i := range darkHours {
			on += t.hourOf(s, first.Add(time.Duration(i)*time.Hour-time.Duration(night)*day)).Mean
		}
		if on >= darkShare*darkHours {
			return true
		}
	}
	return false
}

// needed reports whether the heater was on for a part of the last day: then the
// room was not warm enough by itself, and a room takes longer than that to be.
func (w *warmth) needed(v *view, t *tank) bool {
	if !w.known {
		return false
	}
	s, on := t.sensor(t.config.Equipment.Heater.Switch), 0.0
	for i := range 24 {
		on += t.hourOf(s, v.now.Floor(time.Hour).Add(-time.Duration(i)*time.Hour)).Mean
	}
	return on >= neededHours
}

// aboveRoom is the most by which the water was warmer than the room in any hour
// of the last week; a heater that works holds that to what it needs.
func (t *tank) aboveRoom(v *view, s *series) (most float64) {
	air := t.sensor(t.config.Equipment.Room.Temperature)
	for i := 12; i <= 7*24; i++ {
		at := v.now.Floor(time.Hour).Add(-time.Duration(i) * time.Hour)
		a, b := t.hourOf(air, at), t.hourOf(s, at)
		if a.N > 0 && b.N > 0 {
			most = max(most, b.Mean-a.Mean)
		}
	}
	return most
}
