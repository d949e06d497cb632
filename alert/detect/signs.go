package detect

import (
	"cmp"
	"math"
	"strings"
	"time"

	"lentic/collector/aquarium"
)

// sign is one thing that hands do to a tank.
type sign uint8

const (
	filtersStill  sign = iota // all of them, with mains there
	filterStill               // one of several
	filtersPaused             // all of them, as is usual at that time of day
	probeOut                  // a probe is not in the tank's water
	waterOut                  // quicker than anything but a hand or a hole
	waterIn                   // quicker than the top-off, after it had gone out
	waves                     // hands in the water
	inTurn                    // one filter after another
	kinds
)

var signWords = [kinds]string{"filters off", "a filter off", "filters paused", "probe out", "water out", "water in", "waves", "filters in turn"}

const (
	// boutEnds is how long nothing may be seen until a bout of signs is over.
	boutEnds = 20 * time.Minute
	boutMost = 4 * time.Hour
	// A level that moves so far in ten minutes: nothing but a hand, a hole or a
	// pump does that, and waves of hands at work do not look like it for long.
	levelMoves = 10 * time.Minute
	levelMoved = 8.0 // mm
	moveNear   = 2 * time.Minute
	moveErrors = 4.0 // of what differs by chance: out and in again, once in years
	// A coarse level flickers by a step, and its middle may.
	pouredSteps = 2.5
	// The top-off fills at its rate; hands with a hose are much quicker.
	quicker = 1.6
	// What a visit that is only guessed at may do to the water: whoever lets half
	// a tank of 500 l out at 400 l/h is done in forty minutes, and has his hands in
	// it before and after; nobody takes more than three fifths. Filters are not
	// left off for longer than an hour by somebody who is still at work.
	handsFor   = 40 * time.Minute
	fallsFor   = time.Hour
	fallsMost  = 0.6 // of the water's depth
	standsFor  = time.Hour
	fallPauses = 5 * time.Minute
	// Waves so shortly before all filters stop are those of the hands that stop them; a
	// splash a while before a hose bursts is not.
	wavesAhead = 5 * time.Minute
	// Where nobody says what the top-off brings, more than any small pump does.
	topOffMost = 150.0 // l/h
	// What a level that moves falls by in its last minutes, of what it should, to fall.
	leavesShare = 0.5
)

// signs is a bout of signs that follow each other.
type signs struct {
	first    [kinds]aquarium.Instant // 0: not seen in this bout
	began    aquarium.Instant        // 0: no bout
	last     aquarium.Instant
	hands    aquarium.Instant // the last sign that nothing but hands gives; 0: none yet
	falls    aquarium.Instant // since when water leaves, with short pauses; 0: it does not
	fell     aquarium.Instant // when it last did
	over     aquarium.Instant // when the last bout ended that was a visit; 0: none was
	spent    aquarium.Instant // when water last did what no visit does; 0: never
	gone     aquarium.Instant // the last sign of hands before that
	waved    aquarium.Instant // the last waves before any water left; 0: none
	withStop bool             // they came with the stop of all filters
	inPause  bool             // water began to leave while the filters paused
	offFirst bool             // it did after all of them had been stopped
	turns    turns
	stop     aquarium.Instant // of all filters, where so far it alone speaks for hands; 0: not so
}

// follow looks for signs at a tick.
func (g *signs) follow(v *view, t *tank) {
	if v.visited(t.config.ID) || t.visitedLately(v) {
		g.forget() // what is done is known
		return
	}
	if g.began != 0 && (v.now.Sub(g.last) > boutEnds || v.now.Sub(g.began) > boutMost) {
		g.end(v.now)
	}
	still, all, usual := t.stillFilters(v)
	g.seeWaves(v, t, usual || all && v.now.Sub(t.pauses.from) < stallTold)
	switch {
	case usual && g.began != 0: // by itself it says nothing of hands
		g.see(v.now, filtersPaused)
	case !usual && still && (g.hands == 0 || v.now.Sub(g.hands) < standsFor):
		g.see(v.now, filterStill)
		if all {
			g.see(v.now, filtersStill)
		}
	}
	if g.began != 0 && g.turns.follow(v, t) && g.first[inTurn] == 0 {
		g.see(v.now, inTurn)
		g.hands = v.now
	}
	if stop := g.first[filtersStill]; stop != 0 && g.waved != 0 {
		apart := g.waved.Sub(stop)
		g.withStop = g.withStop || apart > -wavesAhead && apart < boutEnds
	}
	for _, s := range t.order {
		if g.began != 0 && s.hand.back > g.began {
			g.hands = max(g.hands, s.hand.back)
		}
		if s.hand.off != 0 && v.now.Sub(s.hand.at) < handGap {
			if !g.areVisit() && v.stands(aquarium.SensorImplausible, t.config.ID, aquarium.EquipmentKey(s.config.ID)) {
				continue // it was told as what it is, and nobody has shown himself
			}
			g.see(max(s.hand.off, g.began), probeOut)
			g.last = v.now
			if g.first[waterOut] == 0 || s.hand.off < g.first[waterOut] { // else it may hang where the water was
				g.hands = max(g.hands, s.hand.off)
			}
		}
	}
	if d, ok := t.levelMove(v); ok {
		if d <= -levelMoved && d <= -t.farAway() || usual && g.first[waves] != 0 && t.plunges(v) {
			if g.first[waterOut] == 0 {
				g.inPause = usual
			}
			g.see(v.now, waterOut)
			if g.falls == 0 || v.now.Sub(g.fell) > fallPauses {
				g.falls = v.now
			}
			g.fell = v.now
		}
	}
	if !g.offFirst && !usual && all && t.letsOut(v) {
		g.offFirst = true
		g.see(v.now, waterOut)
		g.falls, g.fell = v.now, v.now
	}
	if g.first[waterOut] != 0 && t.byHand(v) {
		g.see(v.now, waterIn)
		g.hands = v.now
	}
	g.followStop(v, t, all)
	if g.fell == v.now && g.areVisit() && t.runsAway(v, g) {
		gone := g.touched()
		g.end(v.now)
		g.spent, g.gone = v.now, gone
	}
}

// seeWaves looks for hands in the water. Small waves count once, before any water has
// left, and only where all filters have just been stopped: of the looks of a whole
// hour one would be wrong.
func (g *signs) seeWaves(v *view, t *tank, calm bool) {
	s := t.signLevel(v)
	if s == nil || t.changing(v) {
		return
	}
	rough := s.wave.rough != 0 && v.now.Sub(s.wave.rough) <= aquarium.Step
	if rough || calm && g.first[waves] == 0 && g.first[waterOut] == 0 && s.restless(v.now) {
		g.see(v.now, waves)
		g.hands = v.now
		if g.first[waterOut] == 0 {
			g.waved = v.now
		}
	}
}

// end is the end of a bout.
func (g *signs) end(at aquarium.Instant) {
	if g.areVisit() {
		g.over = at
	}
	g.forget()
}

// forget begins anew.
func (g *signs) forget() { *g = signs{over: g.over, spent: g.spent, gone: g.gone} }

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

func (g *signs) see(at aquarium.Instant, k sign) {
	if g.began == 0 {
		g.began = at
	}
	if g.first[k] == 0 {
		g.first[k] = at
	}
	g.last = max(g.last, at)
}

// areVisit reports whether the signs together are a visit. Filters that stand still
// and water that leaves may be a hose that has burst, and a probe that hangs in
// the air because of that comes after it; a hose puts no water back, takes no
// probe out of a full tank, stops no filter after another nor all of them before it
// bursts, and makes no waves before any water has left. Waves and filters that are off at their usual time are a feeding,
// until water leaves while they are: no hose bursts without its pump, and once they run
// again it may.
func (g *signs) areVisit() bool {
	seen := func(k sign) bool { return g.first[k] != 0 }
	first := func(k sign) bool { return seen(k) && (!seen(waterOut) || g.first[k] < g.first[waterOut]) }
	soon := seen(filtersPaused) && g.first[waves].Sub(g.first[filtersPaused]) < boutEnds
	return seen(waterIn) || seen(inTurn) || g.offFirst || first(probeOut) && (seen(filterStill) || seen(waterOut)) ||
		first(waves) && (g.withStop || soon && g.inPause)
}

// inHand reports whether a probe is somewhere else than in the tank's water, in
// the hands of somebody who is known to be there, or was just now: what it reads
// then says nothing of the tank.
func (t *tank) inHand(v *view, s *series) bool {
	return s.handled(v.now, handAfter) && (t.signs.areVisit() || v.visited(t.config.ID) || t.visitedLately(v))
}

func (g *signs) words() string {
	var ws []string
	for k, w := range signWords {
		if g.first[k] != 0 && (sign(k) != filterStill || g.first[filtersStill] == 0) {
			ws = append(ws, w)
		}
	}
	return strings.Join(ws, ", ")
}

// stillFilters reports whether filters stand still that nothing is known to have
// stopped, and whether all do; or whether all stand still as they use to at this time
// of day.
func (t *tank) stillFilters(v *view) (still, all, usual bool) {
	if v.w.mains.lost || t.dark(v.w, v.now) {
		return false, false, false
	}
	if _, pausing := t.pausing(v); pausing {
		return false, false, true
	}
	seen, n := 0, 0
	for i, s := range t.flows {
		if !s.current(v.now) || stopped(&t.config.Equipment.Filters[i], t.clock, afterStop) {
			continue
		}
		seen++
		if normal := t.normal(i, v.now); normal >= leastFlow && s.value() < stallShare*normal {
			n++
		}
	}
	return n > 0, n > 0 && n == seen, false
}

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
	return s.middle(v.now, near) - s.middle(v.now.Add(near/2-levelMoves), near), true
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
