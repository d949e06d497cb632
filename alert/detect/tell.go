package detect

import (
	"slices"

	"lentic/collector/aquarium"
)

// tell compares what stands with what has been said, and says what is new.
func (w *Watch) tell(at aquarium.Instant) []aquarium.Transition {
	if !slices.ContainsFunc(w.order, (*state).telling) {
		return nil
	}
	var visits []aquarium.TankID
	for _, t := range w.tanks {
		if w.view.visited(t.config.ID) {
			visits = append(visits, t.config.ID)
		}
	}
	ts := w.rename(nil)
	for _, s := range w.order {
		if !s.telling() {
			continue
		}
		if e := w.event(s, slices.Contains(visits, s.id.Tank)); e != "" {
			ts = append(ts, w.say(s, e))
		}
	}
	return ts
}

// telling reports whether there can be anything to say of an identity.
func (s *state) telling() bool { return s.stands || s.shown != nothing }

// event is what is to be said of one identity now, "" for nothing.
func (w *Watch) event(s *state, visit bool) aquarium.Event {
	switch {
	case !s.stands:
		return aquarium.Returned
	case visit && s.id.Cause.OutOfServiceOnVisit():
		if s.shown != withdrawn {
			return aquarium.OutOfService
		}
	case s.shown == withdrawn && w.rightAtLast(s):
		return ""
	case s.shown == raised && w.startedByVisit(s):
		return aquarium.Returned
	case s.shown != raised && w.parent(s.id, w.now) != "":
		if s.shown != suppressed {
			return aquarium.Suppressed
		}
	case s.shown != raised && (w.outranked(s.id) || s.falseAt != 0): // or it is just over
		return ""
	case s.shown != raised:
		return aquarium.Raised
	case w.urgency(s) > s.priority || s.last.step > 0 && s.last.worse >= s.told+s.last.step,
		s.pageOnly && !w.pageOnly(s):
		return aquarium.Worsened
	}
	switch known := s.isLastKnown(); {
	case s.shown == nothing || known == s.lastKnown:
		return ""
	case known:
		return aquarium.ReadingsStopped
	}
	return aquarium.ReadingsBack
}

// rightAtLast reports whether somebody may have started a filter, or put a probe back, as
// the visit ended, which two readings of one a minute have yet to say: a filter that he has
// left standing is told within its three minutes.
func (w *Watch) rightAtLast(s *state) bool {
	if c := s.id.Cause; c != aquarium.FilterStalled && c != aquarium.SensorImplausible {
		return false
	}
	t := w.places[s.id.Tank]
	return t != nil && t.visitedWithin(&w.view, stallTold-3*aquarium.Step)
}

// say makes the transition of an event and notes it as said.
func (w *Watch) say(s *state, e aquarium.Event) aquarium.Transition {
	tr := aquarium.Transition{At: w.now, Event: e, Identity: s.id, Priority: w.urgency(s), Projected: s.last.projected}
	switch e {
	case aquarium.Raised:
		s.shown, s.priority, s.told, s.pageOnly = raised, tr.Priority, s.last.worse, w.pageOnly(s)
	case aquarium.Worsened:
		s.priority, s.told, s.pageOnly = max(tr.Priority, s.priority), s.last.worse, w.pageOnly(s)
	case aquarium.Renamed: // rename says under what name
		tr.Priority = s.priority
	case aquarium.Suppressed:
		s.shown, tr.Parent = suppressed, w.parent(s.id, w.now)
	case aquarium.OutOfService:
		s.shown = withdrawn
	case aquarium.Returned:
		s.shown, s.ended = nothing, w.now
	}
	tr.Since, tr.Evidence, tr.PageOnly = s.since, s.last.evidence, s.pageOnly
	tr.Evidence.LastKnown = s.isLastKnown()
	s.lastKnown = tr.Evidence.LastKnown
	if s.shown == raised && s.last.step > 0 {
		tr.Evidence.Facts = append(slices.Clip(tr.Evidence.Facts), num(FactTold, s.told, ""))
	}
	return tr
}

// urgency is how urgent an identity is now.
func (w *Watch) urgency(s *state) aquarium.Priority {
	if s.last.priority != 0 {
		return s.last.priority
	}
	if t := w.places[s.id.Tank]; t != nil {
		return t.config.Priority(s.id.Cause)
	}
	return s.id.Cause.Priority()
}
