package screen

import (
	"slices"

	"lentic/collector/aquarium"
)

// State is all that a Screen knows, apart from the configuration. It can be kept
// as JSON, whole.
type State struct {
	Keys    []aquarium.SensorKey `json:"keys"`
	Sensors []Sensor             `json:"sensors"`
	Effects []Effect             `json:"effects,omitempty"`
}

// Heard is when the newest reading came that it knows of; 0: none did.
func (s *State) Heard() aquarium.Instant {
	at := aquarium.Instant(0)
	for i := range s.Sensors {
		at = max(at, s.Sensors[i].Heard)
	}
	return at
}

// Save copies what the screen knows into to, whose memory it takes again. What it
// knows later does not change it.
func (s *Screen) Save(to *State) {
	to.Keys = s.keys
	to.Sensors = append(to.Sensors[:0], s.sensors...)
	to.Effects = append(to.Effects[:0], s.effects...)
}

// Restore takes the screen back to what it knew, or gives a new one what another
// knew. Of sensors that the configuration has no more nothing is taken, and those
// it has now and not then are new; what loads do is taken only where the sensors
// are the same.
func (s *Screen) Restore(from *State) {
	defer s.count()
	if slices.Equal(from.Keys, s.keys) && len(from.Sensors) == len(s.sensors) {
		copy(s.sensors, from.Sensors)
		if len(from.Effects) == len(s.effects) {
			copy(s.effects, from.Effects)
		}
		return
	}
	clear(s.sensors)
	clear(s.effects)
	for i, k := range from.Keys {
		if j := slices.Index(s.keys, k); j >= 0 && i < len(from.Sensors) {
			s.sensors[j] = from.Sensors[i]
		}
	}
}

// count counts the readings that are held.
func (s *Screen) count() {
	s.held = 0
	for i := range s.sensors {
		if s.sensors[i].Held.At != 0 {
			s.held++
		}
	}
}
