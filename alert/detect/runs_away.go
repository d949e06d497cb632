package detect

import (
	"time"

	"lentic/collector/aquarium"
)

const (
	// What a visit that is only guessed at may do to the water: whoever lets half
	// a tank of 500 l out at 400 l/h is done in forty minutes, and has his hands in
	// it before and after; nobody takes more than three fifths.
	handsFor  = 40 * time.Minute
	fallsFor  = time.Hour
	fallsMost = 0.6 // of the water's depth
	// What a level that moves falls by in its last minutes, of what it should, to fall.
	leavesShare = 0.5
)

// runsAway reports, of water that leaves, whether it does what no visit does: onto
// the floor, for so long since there was a sign of hands, or in all, or so much. What is
// only guessed hides no flood.
func (t *tank) runsAway(v *view, g *signs) bool {
	if t.spills(v) {
		return true
	}
	if v.now.Sub(g.touched()) > handsFor && t.leaves(v) || v.now.Sub(g.falls) > fallsFor {
		return true
	}
	fill := 10 * t.config.Size.FillCM
	return fill > 0 && t.level.value() < -fallsMost*fill
}

// touched is when the bout last gave a sign of hands, or began.
func (g *signs) touched() aquarium.Instant { return max(g.hands, g.began) }

// handsIdle reports whether a visit that is only guessed at has shown no hands for so
// long that water which leaves is not theirs: a probe that has moved may read what the
// water is like by now, and filters that pause at their time say nothing of anybody.
func (t *tank) handsIdle(v *view) bool {
	return v.stands(aquarium.VisitUndeclared, t.config.ID, "") && !v.visited(t.config.ID) && v.now.Sub(t.signs.touched()) > handsFor
}

// leaves reports whether the level, which has moved far in ten minutes, has fallen in
// the last of them too, by more than a fine one flickers: what has run out stays out
// when it no longer does.
func (t *tank) leaves(v *view) bool {
	s := t.level
	near := 2*time.Minute + s.interval()
	least := leavesShare * levelMoved * near.Minutes() / levelMoves.Minutes()
	if t.vessel.step < swingStep {
		least = max(least, t.vessel.step)
	}
	return s.middle(v.now.Add(-near), near)-s.middle(v.now, near) > least
}

// spills reports whether the floor has become wet within the time that water may leave
// in a visit: what has been wet for longer is a puddle, or a sensor that hangs.
func (t *tank) spills(v *view) bool {
	p := t.config.Equipment.Floor
	if p == nil {
		return false
	}
	wet, known := t.on(p.Wet, v.now)
	if !known || !wet {
		return false
	}
	since := v.now.Sub(t.sensor(p.Wet).since)
	return since >= wetOn && since <= fallsFor
}
