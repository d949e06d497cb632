package screen

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// How fast a tank's water can become warmer or colder, in K per hour. Half of it
// changed within the hour for water that is ten degrees colder makes changed; no
// heater of such a tank makes more than two. Where the probe hangs it may be four
// times as fast: then it is not the water that changes, it is the probe that is
// moved. Common practice, no source.
const (
	changed  = 5.0
	changing = 4 * changed
)

// lately is what a sensor read a little while ago: between once and twice
// lapse, or its last reading but one. The newer is first.
type lately [2]point

const lapse = 90 * time.Second

func (l *lately) note(v float64, at aquarium.Instant) {
	if at.Sub(l[0].At) >= lapse {
		l[1] = l[0]
		l[0] = point{at, v}
	}
}

// tooFast reports whether a thermometer has crept away faster than water can
// change: lifted out, it takes minutes to be as cold as the room, and each step
// of the way may be a small one.
func (l *lately) tooFast(v float64, at aquarium.Instant, reach float64) bool {
	return l[1].At != 0 && math.Abs(v-l[1].V) > changing*at.Sub(l[1].At).Hours()+reach
}

// What another thermometer has to say. Common practice, no source.
const (
	// nearRoom is what is left of the way to the room's temperature where a
	// probe is said to be in the room's air: it dries, and is cooler.
	nearRoom = 0.35
	// agree is how far apart two thermometers of one tank may be, in K.
	agree = 1.5
	// fresh is how old a reading may be to say anything.
	fresh = 10 * time.Minute
)

// waterWarm reports whether a thermometer that has jumped, and has come to rest,
// is in water: not where the air of the room is, not while another thermometer of
// this tank says that nothing has changed, and not before water could have got
// there.
func (s *Screen) waterWarm(i int, at aquarium.Instant) bool {
	a := &s.sensors[i].Away
	way := a.Last - a.Left
	if at.Sub(a.From).Hours() < math.Abs(way)/changed {
		return false
	}
	if room, ok := s.current(s.room, at); ok && math.Abs(room-a.Last) < nearRoom*math.Abs(room-a.Left) {
		return false
	}
	for j := range s.plans {
		if j == i || j == s.room || s.plans[j].quantity != aquarium.Temperature {
			continue
		}
		if other, ok := s.current(j, at); ok && math.Abs(other-a.Left) < min(agree, math.Abs(way)/2) {
			return false
		}
	}
	return true
}

// current is the last value of a sensor, if it is believed and not old.
func (s *Screen) current(i int, at aquarium.Instant) (float64, bool) {
	if i < 0 {
		return 0, false
	}
	x := &s.sensors[i]
	return x.Last, x.LastAt != 0 && x.Away.From == 0 && at.Sub(x.LastAt) <= max(fresh, 3*x.pace())
}
