package detect

import "lentic/collector/aquarium"

// memo is what was worked out of what has been learned, which changes once a day,
// so that it need not be at each tick. It is no part of what is followed: it is
// asked for by the document it was worked out of.
type memo struct {
	of    *Learned
	from  aquarium.Instant // and the time it holds for; 0: for any
	until aquarium.Instant
	v     float64
	n     int // what it rests on
}

// holds reports whether the memo is of that document and that time.
func (m *memo) holds(l *Learned, at aquarium.Instant) bool {
	return m.of == l && (m.until == 0 || at >= m.from && at < m.until)
}
