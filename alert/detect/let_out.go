package detect

import (
	"math"
	"time"
)

// Whoever changes water stops the filters first and has a hose to lay: nothing that bursts
// waits for its pump to have stood for a minute, nor stops all of them together. So water
// that leaves by day, as quickly as by a hose, from a level that lay still until a minute
// after all filters had stopped, has been let out. Common practice, no source.
const (
	offAhead  = time.Minute
	offWithin = 15 * time.Minute
	offFlat   = 1.5   // mm, or standard deviations: so far the level may differ until then
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
	if t.level == nil || t.level != t.signLevel(v) || !t.level.current(v.now) || t.changing(v) || t.spills(v) {
		return false
	}
	lay, ok := t.layWhenOff(v)
	if !ok {
		return false
	}
	f, ok := t.bursts(v)
	if !ok {
		f, ok = t.begins(v, lay)
	}
	if perMM, _ := t.perMM(); !ok || f.perHour*perMM < hoseLeast {
		return false
	}
	left := time.Duration((lay - t.level.value()) / f.perHour * float64(time.Hour))
	return v.now.Add(-left).Sub(p.from) >= offAhead
}

// layWhenOff is where the level lay before all filters stood and when they had for a
// while; false where that is not the same.
func (t *tank) layWhenOff(v *view) (float64, bool) {
	s, least := t.level, max(offFlat, offFlat*t.level.wave.noise())
	lay := s.middle(t.pauses.from, handAgo)
	ps := s.window(v.now, v.now.Sub(t.pauses.from.Add(offAhead)))
	return lay, len(ps) > 0 && math.Abs(ps[0].v-lay) <= least
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
