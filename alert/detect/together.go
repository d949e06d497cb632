package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// Two pumps never die within minutes of each other by themselves. What stops all of a
// tank's filters in working hours, wholly, with mains there, is a hand, or the one socket
// that they hang on. The hand is by far the more frequent: it feeds, and is gone within
// firstPause, or shows by what else it does, as soon as letsOut may know it. Where it does
// neither, the filters have stalled. That is a quarter of what a tank bears without any
// flow. Common practice, no source.
const (
	// together is how closely filters stop that one hand or one fuse has stopped.
	together  = 3 * time.Minute
	handsShow = max(firstPause, offWithin)
	// Whoever keeps tanks comes in working hours; what stops at another time is told as it
	// is, as soon as ever.
	workFrom = aquarium.Clock(9 * 60)
	workTo   = aquarium.Clock(18 * 60)
	// A pump without power moves nothing. One that is blocked lets some water through.
	unpumped = 0.02 // of the flow when all is well
	// Mains that was away so lately may have gone again where nobody sees it.
	mainsCalm = time.Hour
)

// followStop follows a stop of all filters that is taken for a hand's until another
// sign of it follows; nobody has shown himself by handsShow, and that is told by then.
func (g *signs) followStop(v *view, t *tank, still, all bool) {
	switch {
	case still && g.onlyWaves() && t.pauses.from != 0 && v.now.Sub(t.pauses.from) >= t.handsWait():
		g.forget()
		t.pauses.unwatched = true
	case g.areVisit():
		g.stop = 0
	case g.stop == 0:
		if all {
			g.stop = t.stopOfAll(v)
		}
	case !all || t.spills(v) || v.now.Sub(g.stop) >= t.handsWait():
		g.forget()
	}
}

// handsWait leaves a reading and a tick before and after, as stallOn does.
func (t *tank) handsWait() time.Duration {
	return handsShow - t.flowInterval() - 2*aquarium.Step
}

// stopOfAll is since when all of the tank's filters, two or more, stand still that were
// stopped together, in working hours, with mains there and water in the tank; 0 where that
// is not so, is usual or planned at about that time, or is not to be told yet.
func (t *tank) stopOfAll(v *view) aquarium.Instant {
	p := &t.pauses
	if p.from == 0 || p.known || v.now.Sub(p.from) >= handsShow || t.maybeFed(v) {
		return 0
	}
	first, last, due, n := aquarium.Instant(0), aquarium.Instant(0), false, 0
	for i, s := range t.flows {
		f := &t.config.Equipment.Filters[i]
		if stopped(f, t.clock, pauseMost) {
			return 0
		}
		if !s.current(v.now) {
			continue
		}
		if s.value() > unpumped*t.normal(i, v.now) {
			return 0
		}
		since := t.stoodSince(i, v.now)
		last = max(last, since)
		if st := v.state(aquarium.FilterStalled, t.config.ID, f.ID); st != nil && st.trueFrom != 0 {
			since = min(since, st.trueFrom)
		}
		if first == 0 || since < first {
			first = since
		}
		due = due || v.now.Sub(since) >= t.stallOn(s, "stalled")
		n++
	}
	usual, _ := t.pausing(v)
	clock := aquarium.ClockOf(p.from.In(v.w.site.Timezone))
	if n < 2 || !due || last.Sub(first) > together || v.now.Sub(first) >= t.handsWait() || usual > 0 || clock < workFrom || clock >= workTo ||
		v.w.mains.back != 0 && v.now.Sub(v.w.mains.back) < mainsCalm || t.darkWithin(v.now, mainsCalm) ||
		t.emptied() || t.spills(v) || v.stands(aquarium.WaterLoss, t.config.ID, "") {
		return 0
	}
	return first
}

// stopAlone reports whether nothing but the stop of all filters speaks for the visit
// that stands at a tank: it explains that they stand, and no more.
func (w *Watch) stopAlone(id aquarium.TankID) bool {
	t := w.places[id]
	return t != nil && t.signs.stop != 0
}

// socketOff is the evidence of a visit that only the stop of all filters speaks for:
// what else it can be, which nobody can tell from here.
func (t *tank) socketOff(v *view, e *aquarium.Evidence) {
	e.Facts = append(e.Facts, word(FactDoubt, "hands or socket"))
	e.Excluded = append(e.Excluded, t.powered(v)...)
	e.Excluded = append(e.Excluded, t.usualAt(v, t.config.Equipment.Filters...)...)
}
