package detect

import (
	"math"
	"slices"
	"time"
)

// slopePoints bounds the points a slope is taken from: 21 give 210 pairs, and
// a noise of 0.01 pH over ten minutes then moves it by about 0.02 pH an hour.
const slopePoints = 21

// slope is the Theil-Sen estimate of the change per hour: the median of the
// slopes of all pairs (Theil 1950; Sen 1968), which a third of the points being
// wrong cannot move far. Longer windows are thinned evenly first. ok is false
// for fewer than four points or a window they fill by less than half.
func slope(ps []point, window time.Duration) (perHour float64, ok bool) {
	if len(ps) < 4 || ps[len(ps)-1].at.Sub(ps[0].at) < window/2 {
		return 0, false
	}
	var thin [slopePoints]point
	if len(ps) > slopePoints {
		for i := range thin {
			thin[i] = ps[i*(len(ps)-1)/(slopePoints-1)]
		}
		ps = thin[:]
	}
	var all [slopePoints * (slopePoints - 1) / 2]float64
	s := all[:0]
	for i, a := range ps {
		for _, b := range ps[i+1:] {
			if b.at > a.at {
				s = append(s, (b.v-a.v)/float64(b.at-a.at))
			}
		}
	}
	if len(s) == 0 {
		return 0, false
	}
	hi := nth(s, len(s)/2)
	lo := hi
	if len(s)%2 == 0 {
		lo = slices.Max(s[:len(s)/2])
	}
	const hour = float64(time.Hour / time.Millisecond)
	return (lo + hi) / 2 * hour, true
}

// nth brings the value to its place that would stand there in order, with none
// greater before it and none less behind it (Hoare 1961), and gives it.
func nth(s []float64, n int) float64 {
	lo, hi := 0, len(s)-1
	for lo < hi {
		pivot := s[lo+(hi-lo)/2]
		i, k := lo, hi
		for i <= k {
			for s[i] < pivot {
				i++
			}
			for s[k] > pivot {
				k--
			}
			if i <= k {
				s[i], s[k] = s[k], s[i]
				i, k = i+1, k-1
			}
		}
		switch {
		case n <= k:
			hi = k
		case n >= i:
			lo = i
		default:
			return s[n]
		}
	}
	return s[n]
}

// A step is of more than a poor probe's noise makes, or the last digit: a few readings
// on each side are taken together, so many as a sixth of them.
const (
	steppedLeast = 0.03
	steppedPart  = 6
	steppedMost  = 3
)

// stepped reports whether most of the change over the points happened at once, as
// when a probe is calibrated or moved: water changes bit by bit.
func stepped(ps []point) bool {
	if len(ps) < 4 {
		return false
	}
	side := min(max(len(ps)/steppedPart, 1), steppedMost)
	biggest := 0.0
	for i := 1; i < len(ps); i++ {
		before, after := ps[max(0, i-side):i], ps[i:min(i+side, len(ps))]
		biggest = max(biggest, math.Abs(mean(after)-mean(before)))
	}
	k := len(ps) / 4
	return biggest > max(steppedLeast, math.Abs(mean(ps[len(ps)-k:])-mean(ps[:k]))/2)
}
