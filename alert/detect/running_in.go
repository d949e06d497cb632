package detect

import (
	"lentic/collector/aquarium"
)

// In its first weeks everything in a tank drifts: tannins, shed bark, soil that
// takes alkalinity, what grows. What is told from drifting goes to the page only
// then; what kills or floods is told from the first minute.
var drifting = map[aquarium.Cause]bool{
	aquarium.PHProbeDrift: true, aquarium.FilterClogging: true, aquarium.Unusual: true,
}

// pageOnly reports whether nobody is to be told of it now. What is urgent is.
func (w *Watch) pageOnly(s *state) bool {
	t := w.places[s.id.Tank]
	return t != nil && drifting[s.id.Cause] && w.urgency(s) < aquarium.High && t.runningIn(w.now)
}

// runningIn reports whether the tank was planted less than 42 days ago, or is yet
// to be.
func (t *tank) runningIn(at aquarium.Instant) bool {
	s := t.config.Started
	return !s.IsZero() && at.Time().Before(s.Add(aquarium.RunningIn))
}
