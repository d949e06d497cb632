package detect

import (
	"slices"

	"lentic/collector/aquarium"
)

// chain is one trouble by its names, the most telling first: of those that are
// true one stands.
var chain = [...]aquarium.Cause{aquarium.CO2ValveStuck, aquarium.CO2Overshoot, aquarium.PHFalling, aquarium.PHLow}

// Chain is one trouble by its names, the most telling first.
func Chain() []aquarium.Cause { return slices.Clone(chain[:]) }

// links are the chain's states at one tank, nil where a cause never spoke.
func (w *Watch) links(t *tank) (ls [len(chain)]*state) {
	for i, c := range chain {
		if ss := t.states[w.ranks[c]]; len(ss) > 0 {
			ls[i] = ss[len(ss)-1]
		}
	}
	return ls
}

// outranked reports whether a better name for the same trouble is true, or
// another name of it has been told.
func (w *Watch) outranked(id aquarium.Identity) bool {
	at, t := slices.Index(chain[:], id.Cause), w.places[id.Tank]
	if at < 0 || t == nil {
		return false
	}
	for i, s := range w.links(t) {
		if s != nil && i != at && (i < at && s.stands || s.shown == raised) {
			return true
		}
	}
	return false
}

// rename gives a trouble that has been told its present name: the first that is
// true.
func (w *Watch) rename(ts []aquarium.Transition) []aquarium.Transition {
	for _, t := range w.tanks {
		ls := w.links(t)
		told := slices.IndexFunc(ls[:], func(s *state) bool { return s != nil && s.shown == raised })
		first := slices.IndexFunc(ls[:], func(s *state) bool { return s != nil && s.stands })
		if told < 0 || first < 0 || told == first || ls[first].shown == withdrawn {
			continue
		}
		from, to := ls[told], ls[first]
		if to.since == 0 || from.since != 0 && from.since < to.since {
			to.since = from.since
		}
		to.shown, to.told = raised, to.last.worse
		to.priority = max(w.urgency(to), from.priority)
		from.shown = nothing
		tr := w.say(to, aquarium.Renamed)
		tr.From = from.id.Cause
		ts = append(ts, tr)
	}
	return ts
}
