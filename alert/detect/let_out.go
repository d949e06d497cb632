package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// Whoever changes water stops the filters first and has a hose to lay: nothing that bursts
// waits for its pump to have stood, nor stops all of them together. So water that leaves
// by day, as quickly as by a hose, from a level that lay still until all filters had
// stood for a while, has been let out. When it began to is known to some ten seconds, by a
// level of whole millimetres at the slowest pace; three times that is no chance. Common
// practice, no source.
const (
	offAhead  = 30 * time.Second
	offTick   = 15 * time.Second // the same of water that leaves so fast that the level's error is nothing
	offWithin = 15 * time.Minute
	layReads  = 6     // at least tell where it lay: two of three may be false echoes
	offFlat   = 1.5   // mm: so far the level may differ until then
	offSigmas = 3.0   // ... or by so many standard deviations
	hoseLeast = 150.0 // l/h
	// Where a reading comes each ten seconds it shows before the stop itself must be told.
	offFalls  = 5.0 // mm
	offNoises = 4.0 // standard deviations
	offPoints = 5
	offOver   = time.Minute
)

// letsOut reports whether water leaves as by a hose, and began to when all filters had
// been stopped.
func (t *tank) letsOut(v *view) bool {
	p := &t.pauses
	if p.from == 0 || p.known || v.now.Sub(p.from) > offWithin || t.clock < feedingFrom || t.clock >= feedingTo {
		return false
	}
	if t.level == nil || !t.level.current(v.now) || t.changing(v) || t.spills(v) {
		return false
	}
	from := p.from
	if t.signs.stop != 0 {
		from = t.signs.stop
	}
	lay := t.level.middle(from, max(handAgo, layReads*t.level.interval()))
	f, ok := t.bursts(v)
	if !ok && t.signLevel(v) != nil { // what plunges on and on is told in no other unit
		f, ok = t.begins(v, lay)
	}
	if perMM, _ := t.perMM(); !ok || f.perHour*perMM < hoseLeast {
		return false
	}
	errs := time.Duration(offSigmas * max(t.level.wave.noise(), t.vessel.step/2) / f.perHour * float64(time.Hour))
	return t.leftFrom(v, from, lay, f.perHour).Sub(from) >= min(offAhead, offTick+errs)
}

// restsYet reports whether all filters stand as they use to at this time of day, or as is
// planned, and would not run again yet: what leaves then is let out too, for a hose that
// bursts as they start is seen after that.
func (t *tank) restsYet(v *view) bool {
	p := &t.pauses
	if p.from == 0 {
		return false
	}
	if usual, _ := t.pausing(v); usual > 0 {
		return v.now.Sub(p.from) < usual
	}
	for i := range t.config.Equipment.Filters {
		if !stopped(&t.config.Equipment.Filters[i], t.clock, 0) {
			return false
		}
	}
	return true
}

// leftFrom is when water that leaves at that pace began to: reckoned back to where the
// level lay, from the reading after the last that shows it there.
func (t *tank) leftFrom(v *view, from aquarium.Instant, lay, perHour float64) (at aquarium.Instant) {
	least, lies := max(offFlat, offSigmas*t.level.wave.noise()), true
	for _, p := range t.level.window(v.now, v.now.Sub(from)) {
		down := lay - p.v
		if down > least && lies {
			at = p.at.Add(-time.Duration(down / perHour * float64(time.Hour)))
		}
		lies = down <= least
	}
	return at
}

// begins reports whether the level has begun to plunge from where it lay: its last
// readings go down on one line.
func (t *tank) begins(v *view, lay float64) (fall, bool) {
	s := t.level
	ps := last(s.window(v.now, offOver), offPoints)
	if len(ps) < offPoints || lay-s.value() < max(offFalls, offNoises*s.wave.noise()) {
		return fall{}, false
	}
	h := hingeOf(ps, ps[0].at)
	drop, fell := lay-ps[len(ps)-1].v, -h.perHour*ps[len(ps)-1].at.Sub(ps[0].at).Hours()
	if noise := math.Sqrt(h.rest / (offPoints - 2)); fell < max(offFalls/2, 3*noise) || noise > 1 || leapsDown(ps, drop) {
		return fall{}, false
	}
	return fall{perHour: -h.perHour, by: drop}, true
}
