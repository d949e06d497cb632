package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// A level that is still and then climbs, or falls, since whenever: a line through all of it
// would begin too early and climb too little.

// hinge is a level that climbs from some time on, as fitted by least squares.
type hinge struct {
	perHour float64
	rise    float64 // by the last point
	spread  float64 // of the times, h^2: the slope's variance is the noise's over it
	rest    float64 // sum of the squares of what is left
}

// flat is stretches of a level as if it did not climb.
type flat struct {
	stretches [][]point
	means     [mostStretches]float64 // of each
	squares   float64                // of what differs from them
}

// mostStretches is how many there are at the most: in an hour a level that goes down
// and comes up more often does so by its noise.
const mostStretches = 4

func flatten(stretches [][]point) flat {
	f := flat{stretches: stretches}
	for k, ps := range stretches {
		m := mean(ps)
		var even, odd float64
		for i, p := range ps {
			if d := p.v - m; i%2 == 0 {
				even += d * d
			} else {
				odd += d * d
			}
		}
		f.means[k] = m
		f.squares += even + odd
	}
	return f
}

// hinge fits a hinge that begins to climb at from (any textbook's simple
// regression, on the time since then, in hours), with a height of its own for each
// stretch. Up to there the time is nothing, so that those points are needed for the
// mean only.
func (f *flat) hinge(from aquarium.Instant) (h hinge) {
	const hour = float64(time.Hour / time.Millisecond)
	var sxy, lasted float64
	for k, ps := range f.stretches {
		n, m := float64(len(ps)), f.means[k]
		var sx, sxx, x, first float64
		for i, p := range ps[within(ps, from):] {
			if x = float64(p.at-from) / hour; i == 0 && p.at == ps[0].at {
				first = x
			}
			sx += x
			sxx += x * x
			sxy += x * (p.v - m)
		}
		h.spread += sxx - sx*sx/n
		lasted += x - first
	}
	if h.spread <= 0 {
		return hinge{rest: math.Inf(1)}
	}
	h.perHour = sxy / h.spread
	h.rise = h.perHour * lasted
	h.rest = max(0, f.squares-h.perHour*sxy)
	return h
}

// scatter is by how much three points or more differ from a level that is still and
// then climbs or falls, since whenever: one standard deviation.
func scatter(ps []point) float64 {
	rest, f := math.Inf(1), flatten([][]point{ps})
	for _, p := range ps[:len(ps)-2] {
		rest = min(rest, f.hinge(p.at).rest)
	}
	return math.Sqrt(rest / float64(len(ps)-2))
}

// hingeOf is the hinge of one stretch.
func hingeOf(ps []point, from aquarium.Instant) hinge {
	f := flatten([][]point{ps})
	return f.hinge(from)
}

// jumpedIn is what is left of the stretches by the best fit of one jump in one of
// them, as a stone put into the water makes.
func jumpedIn(stretches [][]point) float64 {
	still, gain := 0.0, 0.0
	for _, ps := range stretches {
		first := ps[0].v // so that squares keep their digits
		var all, squares float64
		for _, p := range ps {
			all += p.v - first
			squares += (p.v - first) * (p.v - first)
		}
		n := float64(len(ps))
		rest := squares - all*all/n
		still += rest
		before := 0.0
		for i, p := range ps[:len(ps)-1] {
			before += p.v - first
			a, b := float64(i+1), n-float64(i+1)
			gain = max(gain, rest-(squares-before*before/a-(all-before)*(all-before)/b))
		}
	}
	return still - gain
}

// finest is the least resolution of stretches, as far as there is one.
func finest(stretches [][]point) (step float64) {
	for _, ps := range stretches {
		if d := resolution(ps); step == 0 || d > 0 && d < step {
			step = d
		}
	}
	return step
}

// resolution is the least step between two readings, 0 where none differ.
func resolution(ps []point) float64 {
	least := math.Inf(1)
	for i, p := range ps[1:] {
		if d := math.Abs(p.v - ps[i].v); d > 0.01 {
			least = min(least, d)
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}

// sigmas is how many standard deviations of a normal distribution are as
// unlikely as Student's t is where the noise is known from so many degrees of
// freedom (Wallace 1959, from memory; the test integrates).
func sigmas(t float64, freedom int) float64 {
	f := float64(freedom)
	return (8*f + 1) / (8*f + 3) * math.Sqrt(f*math.Log1p(t*t/f))
}
