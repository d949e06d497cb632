package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// A level that falls at once and then no further has lost no water: no hole takes
// seven litres between two readings and stops. Its sensor has slipped in its holder,
// or somebody took out a stone; either way the top-off now fills up what is not
// missing. A level that rises at once passes its band, and is told for that.
// Common practice, no source.
const (
	slipLeast  = 8.0             // mm: half a bucket
	slipErrors = 6.0             // ... or standard deviations of two readings' difference: a noisy level's next one lies 8 mm lower once a month
	slipFor    = 6 * time.Minute // it shows no more of it
	slipWaves  = 5 * time.Minute // ... of which it may look like waves, where readings come seldom
	slipAfter  = 3               // ... by so many readings at the least
	slipBefore = 5               // readings that were calm
	slipLong   = 10 * time.Minute
	slipShare  = 0.75 // of the least, that the middle of so long was above it: a splash had lifted it, else
	slipCalm   = 3.0  // mm that these may lie apart
	slipMore   = 1.5  // mm that it may read lower afterwards
	slipGap    = 2 * time.Minute
	slipJolt   = time.Minute    // before the end of what a filter's start is given; hoses hold less
	slipStands = 24 * time.Hour // then it is how the sensor hangs
)

// slip is a level that has dropped at once.
type slip struct {
	at     aquarium.Instant // 0: it has not
	by     float64          // mm
	judged aquarium.Instant // the newest reading that was looked at
}

// follow looks at the readings around the one that a few more have come after.
func (x *slip) follow(t *tank, v *view, visit bool) {
	s := t.level
	if s == nil || len(s.points) == 0 {
		return
	}
	if visit || x.at != 0 && v.now.Sub(x.at) > slipStands {
		x.at = 0
	}
	if x.judged == s.newest() {
		return
	}
	newest := s.newest()
	for k := len(s.upTo(x.judged.Add(-slipFor))); k < len(s.points) && newest.Sub(s.points[k].at) >= slipFor; k++ {
		if !visit && t.slips(v, s.points, k) {
			x.at, x.by = s.points[k].at, s.points[k-1].v-s.points[k].v
		}
	}
	x.judged = newest
}

// slips reports whether the level dropped at once at the k-th of the points, from
// calm to calm: what it rises by since is no more than the pump brings.
func (t *tank) slips(v *view, ps []point, k int) bool {
	least := max(slipLeast, slipErrors*math.Sqrt2*t.level.wave.noise())
	if k < slipBefore || ps[k].v-ps[k-1].v > -least || ps[k].at.Sub(ps[k-1].at) > slipGap || len(ps)-k <= slipAfter {
		return false // as nearly always
	}
	if ps[k].at < max(t.vessel.stirred, t.vessel.machines.Add(-slipJolt)) || t.stirred(ps[k].at) || t.disturbed(v, boutEnds) {
		return false
	}
	perMM, _ := t.perMM()
	foot := middle(ps[k : k+3]) // its first reading may be a spike besides
	if middleIn(t.level.window(ps[k-1].at, slipLong))-foot < slipShare*least {
		return false
	}
	for _, p := range ps[k+1:] {
		pumps := leapTimes * t.topOff().RateLH / perMM * p.at.Sub(ps[k].at).Hours()
		if d := p.v - foot; d < -slipMore || d > leapNoise+pumps {
			return false
		}
	}
	low, high := extremes(ps[k-slipBefore : k])
	band := t.topOff().BandMM
	return high-low <= slipCalm && (band <= 0 || low <= band+runawayMargin) // above it, what was too much was taken out
}

// stirred reports whether there were waves around a drop, but for what looks like
// them in the drop itself.
func (t *tank) stirred(at aquarium.Instant) bool {
	first, last := t.signs.first[waves], t.level.wave.rough
	switch {
	case first == 0:
		return false
	case first < at:
		return last > at.Add(-slipWaves)
	}
	return last > at.Add(slipWaves)
}
