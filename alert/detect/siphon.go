package detect

import (
	"math"
	"slices"
	"time"
)

// Water that runs in through a top-off line nobody called for must be told
// within ten minutes, long before it reaches the band's end: 12 l/h are 13 mm
// an hour on 150 by 60 cm. With the pump off a level only ever falls, so that
// a climb is told by itself once it is more than noise. Derived as said, the
// figures are common practice, no source.
const (
	siphonWindow = 10 * time.Minute
	siphonLeast  = 7 * time.Minute // of it must have been seen
	siphonOn     = 0
	siphonClimb  = 5.0 // mm per hour
	siphonRise   = 1.0 // mm within the window
	siphonNoise  = 0.4 // mm, the least a level's noise and resolution are taken for
	siphonSigmas = 4.0
	// settled is what waves and the pump's last water are given.
	settled = time.Minute
)

// siphons reports whether the level climbs steadily though the pump is known
// to be off. A step, as of something put into the water, is no climb.
func (t *tank) siphons(v *view, level *series) bool {
	part := t.config.Equipment.TopOff
	on, known := t.on(part.Pump, v.now)
	if !known || on {
		return false
	}
	window := min(siphonWindow, v.now.Sub(t.sensors[part.Pump].since)-settled)
	ps := level.window(v.now, window)
	if len(ps) < 6 || ps[len(ps)-1].v-ps[0].v < siphonRise/2 || ps[len(ps)-1].at.Sub(ps[0].at) < siphonLeast {
		return false
	}
	k := len(ps) / 3
	first, middle, last := mean(ps[:k]), mean(ps[k:len(ps)-k]), mean(ps[len(ps)-k:])
	rise := last - first
	if rise < siphonRise || middle-first < rise/5 || last-middle < rise/5 || rise < siphonSigmas*spread(ps)*math.Sqrt(2/float64(k)) {
		return false
	}
	p, ok := slope(ps, window)
	return ok && p >= siphonClimb
}

func mean(ps []point) float64 {
	sum := 0.0
	for _, p := range ps {
		sum += p.v
	}
	return sum / float64(len(ps))
}

// spread is the noise from one reading to the next, without the climb: the
// median of the steps' sizes over the 0.954 it is for normal noise (the step's
// standard deviation is the root of two, and half lie within 0.674 of it).
func spread(ps []point) float64 {
	steps := make([]float64, 0, len(ps)-1)
	for i, p := range ps[1:] {
		steps = append(steps, math.Abs(p.v-ps[i].v))
	}
	slices.Sort(steps)
	return max(siphonNoise, steps[len(steps)/2]/0.954)
}
