package store

import (
	"lentic/collector/aquarium"
)

// Latest is the sensor's reading of the greatest time, false where it has
// none. It is remembered, so asking often costs nothing. Of damaged readings
// it sees nothing: Window and Check tell of them.
func (s *Store) Latest(k aquarium.SensorKey) (aquarium.Reading, bool) {
	s.rlock()
	x, ok := s.catalogue.series[k]
	if !ok || x.known {
		defer s.mu.RUnlock()
		if !ok || x.latest.At == never {
			return aquarium.Reading{}, false
		}
		return x.latest, true
	}
	commits := s.commits
	s.mu.RUnlock()
	r, ok := s.edge(x, true)
	s.mu.Lock()
	defer s.mu.Unlock()
	if ok && commits == s.commits {
		x.latest, x.known = r, true
	}
	return r, ok
}

// First is the sensor's reading of the least time, false where it has none.
func (s *Store) First(k aquarium.SensorKey) (aquarium.Reading, bool) {
	x, ok := s.seriesFor(k)
	if !ok {
		return aquarium.Reading{}, false
	}
	return s.edge(x, false)
}

// edge walks in from one end of a series to the first reading there is.
func (s *Store) edge(x *series, newest bool) (r aquarium.Reading, ok bool) {
	s.rlock()
	first, last := x.first, x.last
	for start, p := range x.group.open {
		if h := p.heads[x.number]; h != nil {
			first, last = min(first, start), max(last, start)
		}
	}
	s.mu.RUnlock()
	w := window{s: s, x: x, from: never, to: forever}
	for first <= last {
		start := first
		if newest {
			start = last
		}
		_, err := w.stretch(start, func(at aquarium.Reading) bool {
			r, ok = at, true
			return newest
		})
		if err != nil {
			s.opt.Log.Error("readings cannot be read", "sensor", x.key.String(), "err", err)
			return r, false
		}
		if ok {
			return r, true
		}
		if newest {
			last = last.Add(-stretch)
		} else {
			first = first.Add(stretch)
		}
	}
	return r, false
}
