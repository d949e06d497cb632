package store

import "lentic/collector/aquarium"

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

// standing is a reading that stands, and its series.
type standing struct {
	series  *series
	reading *aquarium.Reading
}

// take puts the readings of log records, first to last, into what is pending.
func (c *catalogue) take(first, last uint64, rs []standing, touched aquarium.Instant) {
	for _, st := range rs {
		x, r := st.series, st.reading
		if p := x.tail.pending; p == nil || p.sealed || r.At < p.start || r.At >= p.end() {
			p := x.group.pendingFor(r.At)
			x.tail = tail{p, p.head(x.number)}
		}
		p := x.tail.pending
		if p.firstSeq == 0 {
			p.firstSeq = first
		}
		p.lastSeq, p.touched = last, touched
		x.tail.head.put(r)
		p.n++
		if x.known && r.At >= x.latest.At || p.start > x.last && !x.known {
			x.latest, x.known = *r, true // nothing sealed is newer
			x.latest.Sensor = x.key
		}
	}
}

// tail is where a series' last reading went: the next mostly follows it.
type tail struct {
	pending *pending
	head    *head
}
