package detect

import (
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
	// Filters are not left off for longer than that by somebody who is still at work.
	standsFor  = time.Hour
	fallPauses = 5 * time.Minute
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
	again    bool             // waves came again a while after the first ones
	inPause  bool             // water began to leave while the filters paused
	offFirst bool             // it did after all of them had been stopped
	handled  bool             // a probe is taken out while hands are at work in the water
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
		if all && !t.maybeFed(v) {
			g.see(v.now, filtersStill)
		}
	}
	if g.began != 0 && g.turns.follow(v, t) && g.first[inTurn] == 0 {
		g.see(v.now, inTurn)
		g.hands = v.now
	}
	if stop := g.first[filtersStill]; stop != 0 && g.waved != 0 {
		apart := g.waved.Sub(stop)
		g.withStop = g.withStop || !t.pauses.unwatched && apart > -wavesAhead && apart < boutEnds
	}
	for _, s := range t.probes {
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
	if !g.offFirst && (all || t.restsYet(v)) && t.letsOut(v) {
		g.offFirst = true
		g.see(v.now, waterOut)
		g.falls, g.fell = v.now, v.now
	}
	if g.first[waterOut] != 0 && t.byHand(v) {
		g.see(v.now, waterIn)
		g.hands = v.now
	}
	g.followStop(v, t, still, all)
	if g.fell == v.now && g.areVisit() && t.runsAway(v, g) {
		gone := g.touched()
		g.end(v.now)
		g.spent, g.gone = v.now, gone
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
	return seen(waterIn) || seen(inTurn) || g.offFirst || g.handled || first(probeOut) && (seen(filterStill) || seen(waterOut)) ||
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
