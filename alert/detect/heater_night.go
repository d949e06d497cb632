package detect

import (
	"time"
)

// With its lamp off water over its target cools towards the room: by 0.05 K/h where it is
// 5 K warmer, and slower by no tank (a time constant of 100 h, and display tanks have half
// of that). So what stays over its target for the hours of darkHours is heated, if on nights
// in which the room was no cooler the same hours found it at its target, where it is held
// and not left. Common practice, no source.
const (
	nightFalls = 0.05 // K from the first of these hours to the last
	nightCold  = 3.0  // K that the room is cooler by
	nightHeld  = 0.3  // K from the target
	nightRoom  = 0.5  // K that the room may have been cooler
	nightsHeld = 2    // of a week's
)

// darkNight is how warm water and room were in the hours of darkHours of one night.
type darkNight struct {
	first, last, low, high float64
	room                   float64
}

// darkNight is of so many nights ago; false where not all of it is known.
func (t *tank) darkNight(v *view, water, air *series, ago int) (n darkNight, ok bool) {
	from := v.now.Floor(time.Hour).Add(-darkHours*time.Hour - time.Duration(ago)*day)
	for i := range darkHours {
		at := from.Add(time.Duration(i) * time.Hour)
		w, a := t.hourOf(water, at), t.hourOf(air, at)
		if w.N == 0 || a.N == 0 {
			return n, false
		}
		if i == 0 {
			n.first, n.low, n.high = w.Mean, w.Mean, w.Mean
		}
		n.last, n.low, n.high = w.Mean, min(n.low, w.Mean), max(n.high, w.Mean)
		n.room += a.Mean / darkHours
	}
	return n, true
}

// staysInTheDark reports whether the water does not cool in the dark, in a room in which it
// takes the heater to hold it.
func (w *warmth) staysInTheDark(v *view, t *tank) bool {
	if w.over < stuckUnseen || !t.longDark() {
		return false
	}
	air := t.sensor(t.config.Equipment.Room.Temperature)
	now, ok := t.darkNight(v, w.water, air, 0)
	if !ok || now.low < w.target+stuckOver || now.first-now.last > nightFalls || now.low-now.room < nightCold {
		return false
	}
	held := 0
	for ago := 1; ago <= 7; ago++ {
		n, ok := t.darkNight(v, w.water, air, ago)
		if ok && n.high <= w.target+nightHeld && n.low >= w.target-nightHeld && n.room >= now.room-nightRoom {
			held++
		}
	}
	return held >= nightsHeld
}

// longDark reports whether it is after midnight and the lamp has been off for the hours of
// darkHours and one more.
func (t *tank) longDark() bool {
	lit := t.config.Lights
	return t.clock >= darkHours*60 && t.clock <= darkTo &&
		lit != nil && !lit.Contains(t.clock) && !lit.Contains(earlier(t.clock, (darkHours+1)*time.Hour))
}
