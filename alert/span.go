package alert

import (
	"strings"

	"lentic/collector/aquarium"
)

// span is a stretch of time in which an alarm's condition was true; until is
// zero while it is.
type span struct{ from, until aquarium.Instant }

// spans reads an alarm's record. Where the record was cut, its bounds fill in.
func spans(a *aquarium.Alarm) []span {
	var ss []span
	var open bool
	for _, h := range a.History {
		switch h.What {
		case string(aquarium.Raised), string(aquarium.Suppressed), string(aquarium.OutOfService):
			if !open {
				ss = append(ss, span{from: h.At})
				open = true
			}
		case string(aquarium.Returned):
			if open {
				ss[len(ss)-1].until = h.At
				open = false
			}
		}
	}
	if len(ss) == 0 {
		ss = append(ss, span{a.Raised, a.Returned})
	}
	return ss
}

// causeAt is the name an alarm had at t.
func causeAt(a *aquarium.Alarm, t aquarium.Instant) aquarium.Cause {
	for _, h := range a.History {
		if h.What != string(aquarium.Renamed) || h.At <= t {
			continue
		}
		if from, _, ok := strings.Cut(h.Note, " > "); ok {
			return aquarium.Cause(from)
		}
	}
	return a.Cause
}
