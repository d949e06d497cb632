package detect

import (
	"cmp"
	"math"
	"time"

	"lentic/collector/aquarium"
)

const (
	// A level that moves so far in ten minutes: nothing but a hand, a hole or a
	// pump does that, and waves of hands at work do not look like it for long.
	levelMoves = 10 * time.Minute
	levelMoved = 8.0 // mm
	moveNear   = 2 * time.Minute
	moveReads  = 3
	moveErrors = 4.0 // of what differs by chance: out and in again, once in years
	// A coarse level flickers by a step, and its middle may.
	pouredSteps = 2.5
	// The top-off fills at its rate; hands with a hose are much quicker.
	quicker = 1.6
	// Where nobody says what the top-off brings, more than any small pump does.
	topOffMost = 150.0 // l/h
)

// plunges reports whether it is about to be told that water leaves, which is seen
// sooner than a level that has moved far.
func (t *tank) plunges(v *view) bool {
	if t.level != t.signLevel(v) || !t.level.current(v.now) {
		return false
	}
	_, ok := t.bursts(v)
	return ok
}

// levelMove is how far the level has moved in the last minutes, in mm; false where
// that is not known, or a change that is configured does it.
func (t *tank) levelMove(v *view) (float64, bool) {
	s := t.signLevel(v)
	if !s.current(v.now) || t.changing(v) {
		return 0, false
	}
	before, ok := s.at(v.now.Add(-levelMoves))
	if !ok || math.Abs(s.value()-before) < levelMoved/2 {
		return 0, ok
	}
	// Waves and splashes: the middle of some minutes is what the water does.
	near := moveNear + s.interval()
	then := v.now.Add(near/2 - levelMoves)
	if !s.config.OnChange && len(s.window(then, near)) < min(moveReads, int(near/max(s.interval(), aquarium.Step))) { // one beside a gap may be in a splash
		return 0, false
	}
	moved := s.middle(v.now, near) - s.middle(then, near)
	return moved, !s.echoes(v.now, near, moved)
}

// echoes reports whether most of a move lies before the last two readings, which are all that
// show it: two false echoes do, and a third reading comes in a minute.
func (s *series) echoes(now aquarium.Instant, near time.Duration, moved float64) bool {
	ps := last(s.points, moveReads)
	if s.config.OnChange || math.Abs(moved) < levelMoved || len(ps) < moveReads || len(s.window(now, near)) >= burstNear {
		return false
	}
	for i, p := range ps[1:] {
		if math.Abs(p.v-ps[i].v) > burstShare*math.Abs(moved) {
			return true
		}
	}
	return false
}

// farAway is how far the level must have moved for that to be no chance of the medians
// that tell, whose standard error is 1.25 times that of means (any textbook's).
func (t *tank) farAway() float64 {
	s := t.level
	n := max(3, float64(moveNear+s.interval())/float64(max(s.interval(), aquarium.Step)))
	return max(levelMoved, moveErrors*1.25*math.Sqrt(2/n)*t.errs(moveNear))
}

// middle is the median of some minutes' readings; of a sensor that had nothing to tell
// then what it had told last.
func (s *series) middle(at aquarium.Instant, near time.Duration) float64 {
	if ps := s.window(at, near); len(ps) > 0 {
		return middleIn(ps)
	}
	v, _ := s.at(at)
	return v
}

// signLevel is the tank's level, as far as it may show hands: told in another unit it
// leaps, and each of its readings is rough.
func (t *tank) signLevel(v *view) *series {
	s := t.level
	if _, is := t.vessel.scaled.told(s, v.now); is {
		return nil
	}
	return s
}

// middleIn is the median of points, 0 of none.
func middleIn(ps []point) float64 {
	if len(ps) == 0 {
		return 0
	}
	var few [64]float64
	vs := few[:0]
	for _, p := range ps {
		vs = append(vs, p.v)
	}
	return nth(vs, len(vs)/2)
}

// changing reports whether an automatic change moves the water now, as its switches
// tell, or its time and the level.
func (t *tank) changing(v *view) bool {
	c := t.config.Equipment.WaterChange
	if c == nil {
		return false
	}
	if at := t.vessel.changed; at != 0 && v.now.Sub(at) < levelMoves {
		return true
	}
	for _, id := range []aquarium.SensorID{c.Out, c.In} {
		if s := t.sensor(id); id != "" && s.current(v.now) && (s.on || s.wasOn != 0 && v.now.Sub(s.wasOn) < levelMoves) {
			return true
		}
	}
	return false
}

// byHand reports whether the level has risen, from where it was lowest lately, by so
// much and so quickly that the top-off did not bring that.
func (t *tank) byHand(v *view) bool {
	s := t.signLevel(v)
	if !s.current(v.now) || t.changing(v) {
		return false
	}
	near := moveNear + s.interval() // waves and splashes: see levelMove
	now, rise, over := s.middle(v.now, near), 0.0, time.Duration(0)
	for ago := near; ago <= levelMoves; ago += near / 2 {
		if ps := s.window(v.now.Add(-ago), near); len(ps) > 0 && now-middleIn(ps) > rise {
			rise, over = now-middleIn(ps), ago
		}
	}
	return rise >= max(t.farAway(), pouredSteps*t.vessel.step) && t.quicklyIn(v, rise, over)
}

// quicklyIn reports whether a rise is more than the top-off can bring in that time.
func (t *tank) quicklyIn(v *view, mm float64, over time.Duration) bool {
	part := t.topOff()
	on, known := t.on(part.Pump, v.now)
	if known && !on && v.now.Sub(t.sensor(part.Pump).wasOn) > levelMoves {
		return true
	}
	perMM := t.config.Size.LitresPerMM()
	return perMM > 0 && mm*perMM > quicker*cmp.Or(part.RateLH, topOffMost)*over.Hours()
}
