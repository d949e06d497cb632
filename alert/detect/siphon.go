package detect

import (
	"math"
	"slices"
	"time"
)

// Water that runs in through a top-off line nobody called for must be told
// within ten minutes, long before it reaches the band's end: 12 l/h are 13 mm
// an hour on 150 by 60 cm. At a reading a minute so slow a climb drowns in noise
// and resolution and takes a quarter of an hour to be sure of; twice as fast a
// one is sure in ten minutes. With the pump off a level only ever falls, so that
// a climb is told by itself once it is more than noise. Derived as said, the
// figures are common practice, no source.
const (
	siphonWindow = 15 * time.Minute
	siphonLeast  = 7 * time.Minute // of it must have been seen
	siphonOn     = 0
	siphonClimb  = 8.0 // mm per hour, more than the last millimetre's flicker ever looks like
	siphonRise   = 0.5 // mm from the first reading to the last
	siphonJump   = 1.5 // mm from one reading to the next, and three quarters of the rise
	siphonNoise  = 0.4 // mm, the least a level's noise and resolution are taken for
	siphonSigmas = 5.5 // standard errors: 4 cried wolf once in a month of simulated minutes
	// settled is what waves and the pump's last water are given.
	settled = time.Minute
)

// siphons reports whether the level climbs steadily though the pump is known
// to be off.
func (t *tank) siphons(v *view, level *series) bool {
	part := t.config.Equipment.TopOff
	on, known := t.on(part.Pump, v.now)
	if !known || on {
		return false
	}
	window := min(siphonWindow, v.now.Sub(t.sensors[part.Pump].since)-settled)
	ps := level.window(v.now, window)
	if len(ps) < 6 || ps[len(ps)-1].v-ps[0].v < siphonRise || ps[len(ps)-1].at.Sub(ps[0].at) < siphonLeast {
		return false
	}
	p, sure := fit(ps)
	return p >= siphonClimb && sure >= siphonSigmas && steady(smooth(ps))
}

// steady reports whether the level rises from third to third and never by much
// at once: a stone put into the water does not.
func steady(ps []point) bool {
	k := len(ps) / 3
	first, middle, last := mean(ps[:k]), mean(ps[k:len(ps)-k]), mean(ps[len(ps)-k:])
	rise := last - first
	for i, p := range ps[1:] {
		if p.v-ps[i].v > max(siphonJump, 0.75*rise) {
			return false
		}
	}
	return middle-first > rise/5 && last-middle > rise/5
}

// smooth takes out lone splashes: each point is the median of itself and its
// neighbours.
func smooth(ps []point) []point {
	out := slices.Clone(ps)
	for i := 1; i+1 < len(ps); i++ {
		a, b, c := ps[i-1].v, ps[i].v, ps[i+1].v
		out[i].v = max(min(a, b), min(max(a, b), c))
	}
	n := len(ps) - 1
	out[0].v, out[n].v = out[1].v, out[n-1].v
	return out
}

// fit is the least-squares slope per hour and how many of its standard errors
// it is away from nothing (any textbook's simple regression; a level's noise is
// taken for no less than siphonNoise).
func fit(ps []point) (perHour, sure float64) {
	n := float64(len(ps))
	var sx, sy float64
	for _, p := range ps {
		sx += p.at.Sub(ps[0].at).Hours()
		sy += p.v
	}
	var sxx, sxy, rest float64
	for _, p := range ps {
		dx := p.at.Sub(ps[0].at).Hours() - sx/n
		sxx += dx * dx
		sxy += dx * (p.v - sy/n)
	}
	perHour = sxy / sxx
	for _, p := range ps {
		r := p.v - sy/n - perHour*(p.at.Sub(ps[0].at).Hours()-sx/n)
		rest += r * r
	}
	noise := max(siphonNoise, math.Sqrt(rest/(n-2)))
	return perHour, perHour * math.Sqrt(sxx) / noise
}

func mean(ps []point) float64 {
	sum := 0.0
	for _, p := range ps {
		sum += p.v
	}
	return sum / float64(len(ps))
}
