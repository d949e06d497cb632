package collector

import (
	"sync"

	"lentic/collector/aquarium"
)

// stamps keeps arrivals on one topic apart. Two numbers of one sensor that
// arrive within a millisecond, as after a pause of the line, would have the
// same time, and of those only the first value stands: a switch that went on
// and off would stay on. The second is moved a millisecond on.
//
// It holds one entry per topic of a configured sensor or gateway.
type stamps struct {
	mu   sync.Mutex // guards last
	last map[string]aquarium.Instant
}

// ahead is how far arrivals may be moved, so that a flood of messages does not
// run away from the clock.
const ahead = 1000

func (s *stamps) next(topic string, at aquarium.Instant) aquarium.Instant {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.last == nil || len(s.last) > 100_000 { // gateways may invent names
		s.last = map[string]aquarium.Instant{}
	}
	last, ok := s.last[topic]
	if ok && at <= last && last-at < ahead {
		at = last + 1
	}
	s.last[topic] = at
	return at
}
