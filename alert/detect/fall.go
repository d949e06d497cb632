package detect

import (
	"cmp"
	"math"
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// Twenty litres an hour are 22 mm on 150 by 60 cm, and must be told within twenty
// minutes, of which a top-off may take ten. So the level of the last three quarters
// of an hour is held against the hinge of siphon.go, turned round: it falls steadily
// since some minutes ago, faster than air takes and by more than two and a half
// millimetres, and one jump, as a stone makes that is taken out, fits clearly worse. 2e-6 of all
// looks go as far by chance, some 50,000 of a year are independent, and what the air
// takes is allowed for besides: see the test.
// A hose that has come off while the top-off holds against it lets the level fall for
// four minutes at a time.
var falling = proof{sigmas: 4.6, still: 3.2, flicker: 2, jump: -6, least: 2.5, quick: true}

const (
	// fallPoints of a stretch are the least.
	fallPoints = 4
	// fallMore is how much beyond what the air may take is fast, l/h. Less is
	// the hours' to find.
	fallMore = 2.0
	// fallRough is what a level must err by, mm, for three quarters of an hour to tell too
	// little: the slope of one that errs by more is not known to twice fallMore by one reading
	// a minute (a line's standard error, any textbook's, and falling's certainty).
	fallRough = 1.5
	// A hose that bursts is not waited for: ten litres within ten minutes is
	// more than hoses and filters draw in when they start, and two minutes of
	// readings on one line are no wave.
	burstLitres = 10.0
	burstLeast  = 8.0 // mm
	burstFor    = 2 * time.Minute
	burstBefore = 8 * time.Minute
	burstNear   = 5    // readings about then, of which the middle counts
	burstNoise  = 0.15 // of the fall; or a millimetre
	burstThird  = 0.2  // of what the readings fall, the least from one third of them to the next
	burstShare  = 0.6  // of the fall, the most that lies between two readings
)

// fall is a level that falls faster than air takes.
type fall struct {
	perHour float64 // mm, above 0
	since   aquarium.Instant
	by      float64 // mm so far
}

// falls looks for one. The top-off's own rise ends what is looked at: water that
// leaves while the pump runs shows as soon as it has stopped, or falls in spite of
// it.
func (t *tank) falls(v *view) (fall, bool) {
	s, x := t.level, &t.vessel
	if v.now < x.busy {
		return fall{}, false
	}
	if f, ok := t.bursts(v); ok {
		return f, true
	}
	long := siphonWindow
	if t.errs(siphonWindow) > fallRough {
		long = recent
	}
	from := max(x.stirred, v.now.Add(-max(long, slowReadings*s.interval())))
	if v.now < x.machines {
		return fall{}, false
	}
	lately := s.window(v.now, v.now.Sub(from))
	stretches, fell := x.fallsBeside(lately)
	if fell < falling.least/2 {
		return fall{}, false // as nearly always
	}
	perMM, _ := t.perMM()
	may := (t.allowance(v) + fallMore) / perMM
	for i, ps := range stretches {
		stretches[i] = downward(ps)
	}
	sure := t.sure(falling)
	sure.whole = long > siphonWindow
	newest := stretches[len(stretches)-1]
	if newest[len(newest)-1].at.Sub(newest[0].at) < s.burstSpan() { // one wave has gone down
		return fall{}, false
	}
	h, ok := sure.climb(s.interval(), may, newest)
	if !ok && len(stretches) > 1 && len(newest) >= fallPoints {
		h, ok = sure.climb(s.interval(), may, stretches...)
	}
	if !ok || t.settles(newest) || s.waves(v.now) || x.step >= swingStep && deepest(lately) < flickers*x.step {
		return fall{}, false
	}
	return fall{h.perHour, v.now.Add(-time.Duration(h.rise / h.perHour * float64(time.Hour))), h.rise}, true
}

// settles reports whether a fall, turned round, is no more than a splash that settles: it
// began with a rise that the top-off does not bring, and leaves the level where it was
// before that.
func (t *tank) settles(down []point) bool {
	ps := t.level.upTo(down[0].at - 1)
	n := len(ps)
	if n < 3 || len(down) < 3 {
		return false
	}
	before, at, high := middle(ps[n-3:]), ps[n-2].at, math.Inf(-1)
	for _, p := range down[:3] {
		high = max(high, -p.v)
	}
	perMM, _ := t.perMM()
	pump := cmp.Or(t.topOff().RateLH, topOffMost) / perMM * down[0].at.Sub(at).Hours()
	least := max(falling.least, runErrors*t.level.wave.noise())
	return high-before > leapTimes*pump+leapNoise && -middle(down[len(down)-3:]) > before-least
}

// downward is the points turned round.
func downward(ps []point) []point {
	ps = slices.Clone(ps)
	for i := range ps {
		ps[i].v = -ps[i].v
	}
	return ps
}

// flickers of its steps are more than a coarse level falls by that stands on the edge
// between two of them: cut at each rise, its stretches all begin high and end low.
const flickers = 1.5

// deepest is how far points fall at the most, each as the middle of it and of those on its
// either side, for a single one flickers; what they had come up by before is no fall.
func deepest(ps []point) (fell float64) {
	high := math.Inf(-1)
	for i := 2; i < len(ps); i++ {
		m := middleOf(ps[i-2].v, ps[i-1].v, ps[i].v)
		high = max(high, m)
		fell = max(fell, high-m)
	}
	return fell
}

// cut is what a level must rise by between two falls, mm: readings that come in steps lie
// up to one further apart than the water does. Of a coarse one flickers makes sure.
func (x *vessel) cut() float64 {
	if x.step >= swingStep {
		return ebbRise
	}
	return max(ebbRise, min(ebbRange*x.ebb.noise+x.step, x.ebb.most))
}

// falls is what of the points lies between one rise by more than that and the next,
// from its highest to its lowest, those of too few left out but for the last; and how
// far the level has fallen in all of them. The rise must be more than noise makes; what
// falls by as much again is cut at its highest if it came up at all.
func falls(ps []point, rise float64) (stretches [][]point, fell float64) {
	if len(ps) < fallPoints {
		return nil, 0
	}
	if low, high, last := middles(ps); high-low <= rise {
		return [][]point{ps}, high - last // as nearly always: nothing rises or falls by more
	}
	from, lowest, highest := 0, 2, 2
	m := middle(ps[:3])
	low, high, dip := m, m, m
	less, more := min(ps[1].v, ps[2].v), max(ps[1].v, ps[2].v)
	for i := 3; i < len(ps); i++ {
		v := ps[i].v
		m = max(less, min(more, v)) // the middle of three
		less, more = min(ps[i-1].v, v), max(ps[i-1].v, v)
		switch {
		case m > low+rise:
			if lowest-from >= fallPoints-1 {
				stretches, fell = append(stretches, ps[from:lowest+1]), fell+high-low
			}
			from, lowest, low, high, dip = i, i, m, m, m
		case from > 0 && m > high && low == high:
			from, lowest, low, high, dip = i, i, m, m, m
		case m < high-rise && dip <= high-ebbRise:
			from, lowest, low, dip = highest, i, m, high
		}
		if m < low {
			low, lowest = m, i
		}
		if m > high {
			high, highest, dip = m, i, low
		}
	}
	return last(append(stretches, ps[from:]), mostStretches), fell + high - m
}

// fallsBeside is falls of what lies before, between and after filters' stops and starts: a
// stop of ten minutes would take from what falls meanwhile most of its twenty.
func (x *vessel) fallsBeside(ps []point) (stretches [][]point, fell float64) {
	if len(ps) == 0 || x.machines <= ps[0].at {
		return falls(ps, x.cut()) // as nearly always
	}
	for _, some := range x.calm(ps) {
		more, by := falls(some, x.cut())
		stretches, fell = append(stretches, more...), fell+by
	}
	return last(stretches, mostStretches), fell
}

// middles are the lowest, the highest and the last of the points' middles of three, of
// which there are two or more. Two at once need not wait for each other.
func middles(ps []point) (low, high, last float64) {
	a, b := middle(ps), middle(ps[1:])
	low, high = min(a, b), max(a, b)
	low2, high2 := low, high
	i := 4
	for ; i+1 < len(ps); i += 2 {
		v, w := ps[i-1].v, ps[i].v
		less, more := min(v, w), max(v, w)
		a, b = max(less, min(more, ps[i-2].v)), max(less, min(more, ps[i+1].v))
		low, high, low2, high2 = min(low, a), max(high, a), min(low2, b), max(high2, b)
	}
	if i < len(ps) {
		b = middle(ps[i-2:])
		low, high = min(low, b), max(high, b)
	}
	return min(low, low2), max(high, high2), b
}

// bursts reports whether the level plunges.
func (t *tank) bursts(v *view) (fall, bool) {
	s := t.level
	perMM, _ := t.perMM()
	least := max(burstLeast, burstLitres/perMM)
	ref, ok := s.at(v.now.Add(-burstBefore))
	if !ok || ref-s.value() < least {
		return fall{}, false
	}
	near := burstNear * s.interval() // one false echo, or two, are no water that was there
	if ref = min(ref, s.middle(v.now.Add(near/2-burstBefore), near)); ref-s.value() < least {
		return fall{}, false
	}
	ps := s.window(v.now, max(burstFor, 3*s.interval()))
	if len(ps) < 3 || ps[len(ps)-1].at.Sub(ps[0].at) < s.burstSpan() {
		return fall{}, false
	}
	h := hingeOf(ps, ps[0].at)
	drop := ref - ps[len(ps)-1].v
	noise := math.Sqrt(h.rest / float64(max(1, len(ps)-2)))
	if -h.perHour*burstBefore.Hours() < least || noise > max(1, burstNoise*drop) || leapsDown(ps, drop) {
		return fall{}, false
	}
	n := len(ps) / 3
	a, b, e := mean(ps[:n]), mean(ps[n:2*n]), mean(ps[2*n:])
	if least := burstThird * (a - e); a-b < least || b-e < least { // waves do not go down by steps
		return fall{}, false
	}
	return fall{-h.perHour, v.now.Add(-time.Duration(drop / -h.perHour * float64(time.Hour))), drop}, true
}

// burstSpan is how far apart the first and the last of two minutes' readings lie, wherever
// they lie in the tick, and though a device is now and then a little early or late.
func (s *series) burstSpan() time.Duration {
	return burstFor - max(s.interval()*5/4, aquarium.Step)
}

// leapsDown reports whether most of a drop lies between two readings.
func leapsDown(ps []point, drop float64) bool {
	for i, p := range ps[1:] {
		if ps[i].v-p.v > burstShare*drop {
			return true
		}
	}
	return false
}
