package detect

import (
	"lentic/collector/aquarium"
)

// tell compares what stands with what has been said, and says what is new.
func (w *Watch) tell(at aquarium.Instant) []aquarium.Transition {
	var ts []aquarium.Transition
	visits := map[aquarium.TankID]bool{}
	v := &view{w: w, now: at}
	for _, t := range w.tanks {
		visits[t.config.ID] = v.visited(t.config.ID)
	}
	ts = w.rename(at, ts)
	for _, s := range w.order {
		if !s.stands && s.shown == nothing {
			continue
		}
		if e := w.event(s, at, visits[s.id.Tank]); e.Event != "" {
			ts = append(ts, e)
		}
	}
	return ts
}

// event is what is to be said of one identity now, and notes it as said.
func (w *Watch) event(s *state, at aquarium.Instant, visit bool) aquarium.Transition {
	priority := s.last.priority
	if priority == 0 {
		priority = w.priority(s.id)
	}
	tr := aquarium.Transition{At: at, Identity: s.id, Priority: priority, Since: s.since, Evidence: s.last.evidence}
	tr.Evidence.LastKnown = tr.Evidence.LastKnown || s.seen != at
	switch {
	case !s.stands && s.shown == nothing:
		return aquarium.Transition{}
	case !s.stands:
		s.shown = nothing
		tr.Event = aquarium.Returned
	case visit && s.id.Cause.OutOfServiceOnVisit():
		if s.shown == withdrawn {
			return aquarium.Transition{}
		}
		s.shown = withdrawn
		tr.Event = aquarium.OutOfService
	case s.shown != raised:
		if parent := w.parent(s.id, at); parent != "" {
			if s.shown == suppressed {
				return aquarium.Transition{}
			}
			s.shown = suppressed
			tr.Event, tr.Parent = aquarium.Suppressed, parent
			break
		}
		if w.outranked(s.id) {
			return aquarium.Transition{}
		}
		s.shown, s.priority, s.told = raised, priority, s.last.worse
		tr.Event = aquarium.Raised
	case priority > s.priority || s.last.step > 0 && s.last.worse >= s.told+s.last.step:
		s.priority, s.told = max(priority, s.priority), s.last.worse
		tr.Event = aquarium.Worsened
	default:
		return aquarium.Transition{}
	}
	return tr
}

func (w *Watch) priority(id aquarium.Identity) aquarium.Priority {
	if t := w.places[id.Tank]; t != nil {
		return t.config.Priority(id.Cause)
	}
	return id.Cause.Priority()
}
