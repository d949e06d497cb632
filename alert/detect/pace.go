package detect

import (
	"math"
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// pace learns a sensor's reporting interval: the median of its last gaps, so
// that neither an outage nor a redelivery changes it.
type pace struct {
	now  time.Duration // the median, kept until the next gap
	last aquarium.Instant
	n    int               // how many gaps there have been
	even int               // of the last ones, how many were the median itself
	gaps [15]time.Duration // a ring
}

// known is how many gaps it takes to believe in an interval.
const known = 3

func (p *pace) take(at aquarium.Instant) {
	if at <= p.last {
		return
	}
	if p.last != 0 {
		gap := at.Sub(p.last)
		if gap == p.now && p.even >= len(p.gaps) {
			p.n, p.last = p.n+1, at // as nearly always: all of the ring is that
			return
		}
		slot, was := p.n%len(p.gaps), p.now
		went := p.gaps[slot]
		p.gaps[slot] = gap
		p.n++
		if p.n <= len(p.gaps) {
			p.now = p.median()
		} else if (went < p.now) != (gap < p.now) || (went > p.now) != (gap > p.now) {
			p.shift()
		}
		if p.even++; gap != p.now || was != p.now {
			p.even = 0
		}
	}
	p.last = at
}

func (p *pace) median() time.Duration {
	n := min(p.n, len(p.gaps))
	if n < known {
		return 0
	}
	gaps := p.gaps
	slices.Sort(gaps[:n])
	return gaps[n/2]
}

// shift is median where one gap has gone and another come, on another side of it:
// stamps that differ by milliseconds make that so with every second reading.
func (p *pace) shift() {
	under, over := 0, 0
	last, next := time.Duration(0), time.Duration(math.MaxInt64) // the nearest to the median so far
	for _, g := range p.gaps {
		switch {
		case g < p.now:
			under, last = under+1, max(last, g)
		case g > p.now:
			over, next = over+1, min(next, g)
		}
	}
	switch half := len(p.gaps) / 2; {
	case under > half:
		p.now = last
	case over > half:
		p.now = next
	}
}

// interval is 0 while it is not known.
func (p *pace) interval() time.Duration { return p.now }
