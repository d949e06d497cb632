package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// A probe that is lifted out, wiped or put into a buffer jumps by more than the
// water can in minutes. All its readings are looked at for that, those too that
// are not judged: they say nothing of the water and much of who is there.
//
// The quickest honest changes: a valve stuck open takes 0.05 pH a minute, a water
// change 0.1 K. Common practice, no source.
const (
	handAgo   = 3 * time.Minute  // what the water was like
	handLimit = 90 * time.Minute // what stays for so long is what the water is like now
	handAfter = 2 * time.Minute  // a probe needs that to settle again
	handGap   = 10 * time.Minute // silence: nothing is known of what it was like
)

// outOfHand is how far a value moves that the water cannot; 0: not looked at.
var outOfHand = map[aquarium.Quantity]float64{aquarium.PH: 0.4, aquarium.Temperature: 1.2}

// hand follows whether somebody has a probe in his.
type hand struct {
	last  [3]float64 // all readings, whatever their quality
	n     int
	at    aquarium.Instant
	was   float64 // what the water was like
	wasAt aquarium.Instant
	off   aquarium.Instant // since when it reads something else; 0: it does not
	back  aquarium.Instant // when it was last back in the water
}

// take adds a reading; far is how far one must be.
func (h *hand) take(at aquarium.Instant, v, far float64) {
	if at <= h.at {
		return
	}
	silent := at.Sub(h.at) > handGap
	h.last[h.n%len(h.last)], h.at = v, at
	h.n++
	m := v
	if h.n >= len(h.last) {
		m = h.value()
	}
	apart := max(m-h.was, h.was-m)
	switch {
	case h.wasAt == 0 || silent && h.off == 0 || h.off != 0 && at.Sub(h.off) > handLimit:
		h.was, h.wasAt, h.off = m, at, 0
	case h.off != 0:
		if apart < far/2 {
			h.off, h.back, h.wasAt = 0, at, at
		}
	case apart >= far:
		h.off = at
	case at.Sub(h.wasAt) >= handAgo:
		h.was, h.wasAt = m, at
	}
}

// value is the middle of the last three readings, of which there are so many.
func (h *hand) value() float64 { return middleOf(h.last[0], h.last[1], h.last[2]) }

func (h *hand) newest() float64 { return h.last[(h.n-1)%len(h.last)] }

// bend is the second difference of the last three readings.
func (h *hand) bend() float64 {
	n := len(h.last)
	return math.Abs(h.last[h.n%n] - 2*h.last[(h.n+1)%n] + h.last[(h.n+2)%n])
}

// handled reports whether the probe is, or was within so long, somewhere else
// than in the tank's water.
func (s *series) handled(t aquarium.Instant, ago time.Duration) bool {
	return s.hand.off != 0 || s.hand.back != 0 && t.Sub(s.hand.back) < ago
}
