package store

import (
	"lentic/collector/aquarium"
	"lentic/store/record"
)

// pending is what the log has of one group's stretch and no block has yet.
type pending struct {
	group  *group
	start  aquarium.Instant
	heads  map[uint32]*head // by the number of the series
	n      int              // readings put in
	sealed bool             // into a block: nothing may be put in any more
	// firstSeq and lastSeq are the first and last log record with readings
	// of it: the log is needed from the least firstSeq of all on.
	firstSeq, lastSeq uint64
	touched           aquarium.Instant // when the last reading came, by lentic's clock
}

func (p *pending) end() aquarium.Instant { return p.start.Add(stretch) }

// ripens is when the stretch may be sealed.
func (p *pending) ripens() aquarium.Instant { return p.end().Add(settle) }

// head is where the series' readings go.
func (p *pending) head(series uint32) *head {
	h := p.heads[series]
	if h == nil {
		h = &head{}
		p.heads[series] = h
	}
	return h
}

// pendingFor is the group's pending stretch for that instant, made where there
// is none.
func (g *group) pendingFor(at aquarium.Instant) *pending {
	start := stretchOf(g.number, at)
	p := g.open[start]
	if p == nil {
		p = &pending{group: g, start: start, heads: map[uint32]*head{}}
		g.open[start] = p
	}
	return p
}

// pendingAt is the reading of that time that is in the log only.
func (x *series) pendingAt(at aquarium.Instant) (aquarium.Reading, bool) {
	p := x.group.open[stretchOf(x.group.number, at)]
	if p == nil {
		return aquarium.Reading{}, false
	}
	h := p.heads[x.number]
	if h == nil {
		return aquarium.Reading{}, false
	}
	r, ok := h.get(at)
	r.Sensor = x.key
	return r, ok
}

// standing are readings that stand, and the series of each.
type standing struct {
	series   []*series
	readings []record.Logged
}

func (s *standing) add(x *series, l record.Logged) {
	s.series, s.readings = append(s.series, x), append(s.readings, l)
}

// reset leaves none.
func (s *standing) reset() { s.series, s.readings = s.series[:0], s.readings[:0] }

// landed are readings that are on disk, in the log records first to last, since
// lentic's clock said at. number is that of their transaction.
type landed struct {
	standing
	first, last uint64
	at          aquarium.Instant
	number      uint64
}

// take puts readings into what is pending.
func (c *catalogue) take(l *landed) {
	for i := range l.readings {
		x, r := l.series[i], &l.readings[i].Point
		if p := x.tail.pending; p == nil || p.sealed || r.At < p.start || r.At >= p.end() {
			p := x.group.pendingFor(r.At)
			x.tail = tail{p, p.head(x.number)}
		}
		p := x.tail.pending
		if p.firstSeq == 0 {
			p.firstSeq = l.first
		}
		p.lastSeq, p.touched = l.last, l.at
		x.tail.head.put(r)
		p.n++
		if x.known && r.At >= x.latest.At || p.start > x.last && !x.known {
			x.isLatest(r) // nothing sealed is newer
		}
	}
}

// tail is where a series' last reading went: the next mostly follows it.
type tail struct {
	pending *pending
	head    *head
}
