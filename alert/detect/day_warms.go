package detect

import (
	"math"
	"time"
)

// Where nobody tells of the room, the way the water warms does: a heater gives what it gives
// from the first, and water that it warms rises the less the warmer it is. A day warms a
// room bit by bit, and the water rises more from hour to hour, from when it turned. In its
// second whole hour a heater shows all of it, or nearly; a day's second hour is less than
// half of its fifth. Common practice, no source.
const (
	dayTurned = 0.01 // K within the hour: until then it did not rise
	daySecond = 0.6  // of the rise now, at the most
	dayMore   = 0.12 // K/h from one hour to the next, at the most: nothing came on meanwhile
	dayLess   = 0.05 // ... and no less than this less
	dayOver   = 0.1  // K over the target when it turned: the heater of a colder one may have come on
	dayHours  = 12
	dayStep   = 0.11 // K from one value of the sensor to the next: coarser ones say too little
)

// dayWarms reports whether the water, which rises by so much an hour now, warms as a day
// makes it.
func (w *warmth) dayWarms(v *view, t *tank, perHour float64) bool {
	var rises []float64 // the newest first
	hour := v.now.Floor(time.Hour)
	for i := 1; ; i++ {
		a, b := t.hourOf(w.water, hour.Add(-time.Duration(i+1)*time.Hour)), t.hourOf(w.water, hour.Add(-time.Duration(i)*time.Hour))
		if a.N == 0 || b.N == 0 || i > dayHours {
			return false
		}
		if b.Mean-a.Mean <= dayTurned {
			if b.Mean < w.target+dayOver {
				return false
			}
			break
		}
		rises = append(rises, b.Mean-a.Mean)
	}
	n := len(rises)
	if n < 2 || rises[n-2] > daySecond*perHour || !w.fine(v) {
		return false
	}
	later := perHour
	for _, x := range rises {
		if later-x > dayMore || x-later > dayLess {
			return false
		}
		later = x
	}
	return true
}

// fine reports whether the sensor's values lie near enough to each other.
func (w *warmth) fine(v *view) bool {
	ps := w.water.window(v.now, time.Hour)
	for i := 1; i < len(ps); i++ {
		if by := math.Abs(ps[i].v - ps[i-1].v); by > 0 && by <= dayStep {
			return true
		}
	}
	return false
}
