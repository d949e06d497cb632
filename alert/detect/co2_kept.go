package detect

import (
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// A valve that leaks as much as the water gives off brings the pH down no further: it
// stays where the controller has held it, while at these hours of other days, with the
// valve shut, it rises. Little that is healthy does that: with less flow or without
// plants gas leaves more slowly, but leaves. Whole hours are held against each other,
// and of two the one that rises less, for an air pump may have its times; a quarter of
// the days may be out of the common. Common practice, no source.
const (
	keptOver  = 2 * time.Hour // one against the one before
	keptDays  = 7
	keptLeast = 4    // of them must be known
	keptRise  = 0.06 // pH, from one hour to the next, that half of them rise by at the least
	keptShare = 0.2  // of which no more has come
	keptUnder = 0.08 // pH under what they come to
)

// keepsGas reports whether the pH stays down though the valve is known to be shut, and
// gas leaves the water at this hour as a rule. It is looked at by the hour; while
// something else moves the pH, it is what it was.
func (t *tank) keepsGas(v *view, s *series) bool {
	if !t.haveShut || v.now.Sub(t.shutAt) < t.mixing()+keptOver || !s.current(v.now) {
		return false
	}
	part := t.config.Equipment.CO2
	if _, known := t.on(part.Valve, v.now); !known && (part.Hours == nil || part.Hours.Contains(earlier(t.clock, keptOver))) {
		return false
	}
	if v.now.Floor(time.Hour) != v.now || t.visited || t.doubted() || t.unproved() || t.doubt.lain != 0 ||
		v.w.mains.lost || t.dark(v.w, v.now) || v.now.Sub(t.dosing.disturbed) < disturbedFor || t.changing(v) {
		return t.kept
	}
	at := v.now.Add(-time.Hour)
	last, before := t.hourOf(s, at), t.hourOf(s, at.Add(-time.Hour))
	if last.N == 0 || before.N == 0 || last.Mean-before.Mean >= keptRise {
		return false // as nearly always
	}
	rise, comes := t.clearsBy(s, at)
	switch {
	case last.Mean > comes-keptUnder:
		return false
	case t.kept: // later in the night it rises no more on other days either
		return true
	case rise < keptRise || last.Mean-before.Mean > keptShare*rise || t.stuck(s, 0.5) || t.mayBeLate() || t.thinned(v):
		return false
	}
	still, _, usual := t.stillFilters(v)
	if still || usual {
		return false
	}
	g, ok := t.gasOf(v)
	return ok && !t.airKeeps(v, &g)
}

// clearsBy is by how much the pH rises to that hour from the one before on other days,
// or to that one if it is less, 0 where it does so on too few of them; and what it comes
// to on most, which nothing is below where it is not known.
func (t *tank) clearsBy(s *series, hour aquarium.Instant) (rise, comes float64) {
	var rises, means []float64
	for i := range keptDays {
		at := hour.Add(-time.Duration(i+1) * day)
		a, b, c := t.hourOf(s, at), t.hourOf(s, at.Add(-time.Hour)), t.hourOf(s, at.Add(-2*time.Hour))
		if a.N > 0 && b.N > 0 && c.N > 0 {
			rises, means = append(rises, min(a.Mean-b.Mean, b.Mean-c.Mean)), append(means, a.Mean)
		}
	}
	if len(rises) < keptLeast {
		return 0, 0
	}
	slices.Sort(rises)
	slices.Sort(means)
	if rises[len(rises)/4] >= keptRise/2 {
		rise = rises[len(rises)/2]
	}
	return rise, means[len(means)/4]
}
