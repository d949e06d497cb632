package detect

import (
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// RunUp is how much of the past makes a watch know a tank as one does that was
// always there, but for what only months tell.
const RunUp = hoursKept * time.Hour

// idleAfter is how long nothing is heard until every delay of a cause has
// passed, but for those that are looked at one by one.
const idleAfter = Memory

// never is after every instant.
const never = aquarium.Instant(1<<63 - 1)

// Next is the next tick at which anything can change although no reading comes:
// nearly always the very next one. Where all has been silent for so long that
// nothing is left to wait for, it is when a day is learned, or what the journal
// says comes. What the clock alone does to a watch meanwhile is left out: it is as
// it would have been after Memory of ticks.
func (w *Watch) Next(at aquarium.Instant) aquarium.Instant {
	step, silent := at.Add(aquarium.Step), at.Sub(max(w.heard, w.began))
	if len(w.pending) > 0 || silent < idleAfter || !w.idle(at) {
		return step
	}
	next := at.Add(-learnAfter).Floor(day).Add(day + learnAfter)
	if silent > (daysKept+1)*day { // nothing is left of what was learned but empty days
		next = never
	}
	for _, e := range w.journal {
		for _, t := range []aquarium.Instant{e.At, e.Until} {
			switch {
			case t > at:
				next = min(next, t.Floor(aquarium.Step))
			case at.Sub(t) < idleAfter: // it may have begun something
				return step
			}
		}
	}
	return max(step, next)
}

// idle reports whether no delay runs, no sensor may still fall silent, no switch
// is taken for what it last said, and no tank grows out of its first weeks.
func (w *Watch) idle(at aquarium.Instant) bool {
	for s := range w.every() {
		held := s.config.OnChange && s.config.Refresh == 0 && s.key.Tank != aquarium.SiteWide
		if s.heard != 0 && (held || at.Sub(s.heard) <= s.patience()) {
			return false
		}
	}
	return !slices.ContainsFunc(w.tanks, func(t *tank) bool { return t.runningIn(at) }) &&
		!slices.ContainsFunc(w.order, func(s *state) bool {
			return !s.stands && s.trueFrom != 0 || s.stands && s.falseAt != 0
		})
}
