package detect

import (
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// pace learns a sensor's reporting interval: the median of its last gaps, so
// that neither an outage nor a redelivery changes it.
type pace struct {
	last aquarium.Instant
	gaps [15]time.Duration // a ring
	n    int               // how many there have been
	now  time.Duration     // the median, kept until the next gap
}

// known is how many gaps it takes to believe in an interval.
const known = 3

func (p *pace) take(at aquarium.Instant) {
	if at <= p.last {
		return
	}
	if p.last != 0 {
		gap, slot := at.Sub(p.last), p.n%len(p.gaps)
		same := p.gaps[slot] == gap // then the median is the same too
		p.gaps[slot] = gap
		p.n++
		if !same || p.n <= len(p.gaps) {
			p.now = p.median()
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

// interval is 0 while it is not known.
func (p *pace) interval() time.Duration { return p.now }
