package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// Gas has to be mixed before an electrode can find it, and goes on mixing for
// minutes after its valve has shut: thirty times the usual flow moves a pH by 0.07
// in twenty seconds, and one that fell by much in a minute goes on by a sixth of
// that in the next three at the least. A current that leaks into the water, a
// loose plug or a calibration moves it at once, and then no further. Common
// practice, no source.
const (
	leapWithin = 20 * time.Second
	leapSlow   = 90 * time.Second // of readings further apart the two that enclose it
	leapShare  = 0.5              // of how far the pH has come down
	leapRest   = 3 * time.Minute
	leapOn     = 0.15 // of the leap

	suddenWithin = 4 * time.Minute
	suddenOver   = 15 * time.Minute
	suddenShare  = 0.6
	suddenMost   = 0.12 // pH: three times what the noise of a poor electrode adds
	suddenLeast  = 0.06 // ... of a good one, which a calibration moves by a tenth
	suddenTimes  = 3.0
)

// leapt reports whether what the pH has come down by within the window, and since
// it was last so high, was a leap, or may have been. One that has not been so high for
// longer has come down from there too: noise is no leap beside that.
func (s *series) leapt(at aquarium.Instant, window time.Duration, high float64) bool {
	ps := s.window(at, window)
	for i := len(ps) - 1; i > 0; i-- {
		if ps[i].v >= high {
			ps = ps[i:]
			break
		}
	}
	if len(ps) < 2 {
		return false
	}
	leap, slow := 0.0, false
	if math.IsInf(high, 1) {
		high = s.value()
	}
	var from, to point
	for i, p := range ps[:len(ps)-1] {
		high = max(high, p.v)
		for k := i + 1; k < len(ps); k++ {
			took := ps[k].at.Sub(p.at)
			if took > leapWithin && (k > i+1 || took > leapSlow) {
				break
			}
			if p.v-ps[k].v > leap {
				leap, slow, from, to = p.v-ps[k].v, took > leapWithin, p, ps[k]
			}
		}
	}
	switch {
	case leap < leapShare*(high-s.value()):
		return false
	case !slow || at.Sub(to.at) < leapRest:
		return true
	}
	rest, ok := s.at(to.at.Add(leapRest))
	return ok && from.v-rest <= (1+leapOn)*leap
}

// sudden reports whether most of what the pH has come down by of late it did
// within minutes: an electrode that stands in something else does, while gas that
// goes on coming goes on bringing it down. Rough is how far the pH goes up and down from
// one reading to the next.
func (s *series) sudden(at aquarium.Instant, rough float64) bool {
	ps := s.window(at, suddenOver)
	if len(ps) < 4 {
		return false
	}
	high, most, first := s.value(), 0.0, 0
	for i, p := range ps {
		high = max(high, p.v)
		for p.at.Sub(ps[first].at) > suddenWithin {
			first++
		}
		for _, q := range ps[first:i] {
			most = max(most, q.v-p.v)
		}
	}
	return most >= max(suddenLeast, min(suddenTimes*rough, suddenMost), suddenShare*(high-s.value()))
}
