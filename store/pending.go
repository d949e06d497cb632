package store

import (
	"lentic/collector/aquarium"
	"lentic/store/record"
)

// pending is what the log has of one group's stretch and no block has yet.
type pending struct {
	group *group
	start aquarium.Instant
	heads map[uint32]*head // by the number of the series
	n     int              // readings put in
	// firstSeq and lastSeq are the first and last log record with readings
	// of it: the log is needed from the least firstSeq of all on.
	firstSeq, lastSeq uint64
	touched           aquarium.Instant // when the last reading came, by lentic's clock
}

func (p *pending) end() aquarium.Instant { return p.start.Add(stretch) }

// put adds a reading that stands.
func (p *pending) put(series uint32, r aquarium.Reading) {
	h := p.heads[series]
	if h == nil {
		h = &head{}
		p.heads[series] = h
	}
	h.put(r)
	p.n++
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

// take puts a log record's readings into what is pending.
func (c *catalogue) take(seq uint64, rs []record.Logged, touched aquarium.Instant) {
	for _, l := range rs {
		x := c.byNumber[l.Series]
		if x == nil {
			continue // its name is lost, and it with it
		}
		p := x.group.pendingFor(l.Reading.At)
		if p.firstSeq == 0 {
			p.firstSeq = seq
		}
		p.lastSeq, p.touched = seq, touched
		p.put(x.number, l.Reading)
		if x.known && l.Reading.At >= x.latest.At || p.start > x.last && !x.known {
			x.latest, x.known = l.Reading, true // nothing sealed is newer
			x.latest.Sensor = x.key
		}
	}
}
