package detect

import (
	"math"
	"slices"
	"time"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// Water that runs in through a top-off line nobody called for must be told
// within ten minutes, long before it reaches the band's end: 12 l/h are 13 mm an
// hour on 150 by 60 cm, two millimetres by then, of which one is the resolution
// of a usual sensor.
//
// With the pump off a level only ever falls. So the level of the last three
// quarters of an hour is held against a hinge: level, then climbing steadily
// since some minutes ago. The climb is told when noise of the size that this
// sensor shows would hardly ever do that, and one jump explains it no better.
const (
	siphonWindow = 45 * time.Minute
	slowReadings = 18 // ... or that many readings, where they come seldom
	siphonPoints = 6
	siphonLeast  = 0.5 // mm, or l of what it is drawn from: less is not looked at
	leastNoise   = 0.1 // mm or l; nothing is measured better, waves alone do more
	// settled is what waves and the pump's last water are given.
	settled = time.Minute
)

// proof is what makes sure of a climb.
type proof struct {
	sigmas float64 // standard errors that the climb is away from nothing
	// A level with steps of a millimetre that stands still may change by one
	// for a hair, which fits a rise of one and a half; one that flickers
	// between two steps averages out.
	still, flicker float64 // the least rise, in steps
	jump           float64 // how much worse than one jump it may fit, in variances of the noise
	least          float64 // the least rise besides, mm
	quick          bool    // it may have begun as lately as quickFor
	whole          bool    // or with the first of the readings
	noise          float64 // what readings usually differ by from the water, where that is known
	freedom        int     // ... from so many of them; a splash that settles knows nothing of it
	waver, wavers  float64 // what they would differ by if a stretch of them erred as it does by chance: of minutes, and of longer
	bends          int     // ... from so many of such stretches; 0: from none yet
}

var (
	// 2e-6 of all looks go that far by chance. Those within ten minutes see
	// much the same, so that a year has some 50,000: once in ten years, before
	// rise and shape are asked for. Simulated years: see the test.
	alone = proof{sigmas: 4.6, still: 1.6, flicker: 0.8, jump: 1, least: 1.1}
	// Once in 200 looks, and beside a store that drains.
	besides = proof{sigmas: 2.6, still: 0.8, flicker: 0.5, jump: 4}
	// Once in 4000, and before what makes sure of it.
	creeping = proof{sigmas: 3.5, still: 0.8, flicker: 0.5, jump: 4}
)

// What is looked for in a hurry may have begun as lately as quickFor, and must have
// gone further: few readings tell a jump and a line badly apart.
const (
	quickFor   = 4 * time.Minute
	quickLeast = 3.5 // mm
)

// strangeLeast is the least rise, mm, of a level of which nobody knows yet, in its first
// hours, by how much it wanders: what ten litres an hour make within ten minutes on 150 by
// 60 cm, less what a hinge leaves out of it. Common practice, no source.
const strangeLeast = 1.5

// siphonFor are how long ago it may have begun to climb.
var siphonFor = [...]time.Duration{quickFor, 7 * time.Minute, 10 * time.Minute, 15 * time.Minute, siphonWindow}

// siphonCut is how long ago besides, where a top-off has cut it in two.
const siphonCut = 22 * time.Minute

// siphons reports whether the level climbs steadily though the pump is known
// to be off, and nothing else brings water.
func (t *tank) siphons(v *view, level *series) bool {
	on, known := t.parts.pump.isOn(v.now)
	if on || v.now < t.vessel.unrest {
		return false
	}
	if !known {
		return t.seeps(v, level)
	}
	off := v.now.Sub(max(t.parts.pump.since.Add(settled), t.vessel.stirred))
	ps := level.lately(v.now, off)
	if pump := t.parts.pump; !pump.config.OnChange { // what rises since it last told may be its own
		ps = ps[:within(ps, pump.newest())]
		off -= v.now.Sub(pump.newest())
	}
	look := func(p proof) (hinge, bool) { return p.look(ps, level.step()) }
	if len(ps) > 0 && t.vessel.machines > ps[0].at {
		stretches := t.vessel.calm(ps)
		look = func(p proof) (hinge, bool) { return p.lookAt(stretches, level.step()) }
	}
	h, ok := look(besides)
	if !ok {
		return false
	}
	_, sure := look(t.sure(alone))
	return sure || t.drains(v, off, h)
}

// drains reports whether what the pump draws on falls though nobody refills it, by
// about as much as the tank's level climbs: a store that leaks falls too.
func (t *tank) drains(v *view, off time.Duration, climb hinge) bool {
	store := t.sensor(t.config.Equipment.TopOff.From)
	if !store.current(v.now) {
		return false
	}
	ps := slices.Clone(store.lately(v.now, off))
	for i := range ps {
		ps[i].v = -ps[i].v
	}
	h, ok := alone.look(ps, store.step())
	perMM, _ := t.perMM()
	gone := h.rise / (climb.rise * perMM)
	return ok && gone > 1/sameWater && gone < sameWater
}

// Where no switch tells of the pump, water that comes in is not its own if it comes
// much slower than its rate: from end to end of the band a pump takes minutes.
const (
	seepShare = 0.45 // of the pump's rate, at the most
	seepFor   = 3 * time.Minute
	seepNoise = 1.0 // mm that readings so far apart may differ by
	// A climb begins where the top-off does if three readings in a row are no
	// further above that on average, or two of their standard errors.
	seepBegins = 0.5 // mm
	// The mean of those is of one reading before the last of them, and the pump came on
	// before the next.
	seepLate = 2
	// A pump that brings less of its rate has failed, by its head or its line.
	creepShare = 0.3
	creepSteps = 3.0
	// By so many readings it is seen that it still climbs, or twice seepFor.
	seepReadings = 9
)

// seeps reports whether the level climbs steadily, and too slowly for the pump.
func (t *tank) seeps(v *view, level *series) bool {
	part := t.config.Equipment.TopOff
	perMM := t.config.Size.LitresPerMM()
	if part.RateLH <= 0 || perMM <= 0 {
		return false
	}
	ps := level.lately(v.now, v.now.Sub(t.vessel.stirred))
	if len(ps) == 0 {
		return false
	}
	stretches := [][]point{ps}
	if t.vessel.machines > ps[0].at {
		stretches = t.vessel.calm(ps)
	}
	h, ok := t.sure(alone).lookAt(stretches, level.step())
	slow := seepShare * part.RateLH / perMM
	if !ok || h.perHour > slow || t.toppedOff(ps, h, level.step()) && !t.creepsUp(stretches, h, len(ps), level.step()) && !t.seepsSteadily(ps, level.step()) {
		return false
	}
	var lately [][]point
	since := v.now.Add(-max(2*seepFor, seepReadings*level.step()))
	for _, ps := range stretches {
		j := 0
		for i := 5; i < len(ps); i++ {
			for j < i-5 && ps[i].at.Sub(ps[j].at) > seepFor { // what came in during a gap is no less quick
				j++
			}
			if mean(ps[i-2:i+1])-mean(ps[j:j+3]) > slow*seepFor.Hours()+seepNoise {
				return false
			}
		}
		if ps = ps[within(ps, since):]; len(ps) > 1 {
			lately = append(lately, ps)
		}
	}
	now := flatten(lately)
	return len(lately) > 0 && now.hinge(lately[0][0].at).perHour > h.perHour/2
}

// toppedOff reports whether the level was at the lower end of its band so lately
// that the top-off explains a climb: seldom and noisy readings show a quick one as
// a slow one.
func (t *tank) toppedOff(ps []point, h hinge, interval time.Duration) bool {
	noise := math.Sqrt(h.rest / float64(len(ps)-2))
	low := max(-t.topOff().BandMM, t.usualLowest()) + max(seepBegins, 2*noise/math.Sqrt(3))
	since := ps[len(ps)-1].at.Add(-2*min(t.refillTime(), longestRefill) - max(2*seepFor, 3*interval) - seepLate*interval)
	for i := within(ps, since); i < len(ps); i++ {
		if i >= 2 && mean(ps[i-2:i+1]) <= low {
			return true
		}
	}
	return false
}

// creepsUp reports whether a level comes up from its lower end as no top-off brings it: by
// less than half of what one brings and at less than creepShare of its rate, and it did so
// before one could have begun that is not over yet. A band of a few steps or noises does
// not show that, nor do readings so far apart that a whole run lies between two of them.
func (t *tank) creepsUp(stretches [][]point, h hinge, points int, interval time.Duration) bool {
	part, perMM := t.topOff(), t.config.Size.LitresPerMM()
	if h.perHour*perMM >= creepShare*part.RateLH || interval > seepFor/3 {
		return false
	}
	noise, newest := math.Sqrt(h.rest/float64(points-2)), stretches[len(stretches)-1]
	if h.rise >= part.BandMM-2*noise || part.BandMM < creepSteps*max(noise, t.vessel.step) {
		return false
	}
	n := within(newest, newest[len(newest)-1].at.Add(-t.refillTime()))
	if n == 0 {
		return false
	}
	before := slices.Clone(stretches)
	before[len(before)-1] = newest[:n]
	_, ok := t.sure(creeping).lookAt(before, interval)
	return ok
}

// usualLowest is where this tank's level usually comes down to before the top-off brings
// some, which goes by a sensor of its own; half-way to the band's end before days have
// shown it.
func (t *tank) usualLowest() float64 {
	days := t.learned.Vessel.Lowest
	if len(days) < failedKnown {
		return -t.topOff().BandMM / 2
	}
	return statistic.Median(slices.Clone(days))
}

// sameWater is how far apart a rise and a fall of the same water may be measured.
const sameWater = 2.5

// lately is what a climb is looked for in, as far as the pump has been off.
func (s *series) lately(t aquarium.Instant, off time.Duration) []point {
	return s.filled(t, min(max(siphonWindow, slowReadings*s.step()), off))
}

// of is the proof that takes no quiet stretch of a level's readings for a better sensor.
func (p proof) of(level *series) proof {
	p.noise = level.wave.noise()
	if level.wave.n > waveKnown {
		p.freedom = waveKnown
	}
	return p
}

// sure is the proof that knows the tank's level: what its readings err by alone, and
// together.
func (t *tank) sure(p proof) proof {
	p = p.of(t.level)
	p.waver, p.wavers, p.bends = t.errs(waverLong), t.errs(siphonWindow), t.bends()
	if t.vessel.waver.short.noise == 0 {
		p.least = max(p.least, strangeLeast)
	}
	return p
}

// climbs reports whether a level has begun to climb.
func (p proof) climbs(ps []point, interval time.Duration) bool {
	_, ok := p.look(ps, interval)
	return ok
}

// look is climb of one stretch, after a first glance.
func (p proof) look(ps []point, interval time.Duration) (hinge, bool) {
	n := len(ps)
	if n < siphonPoints {
		return hinge{}, false
	}
	now := mean(ps[n-2:])
	if now-roughly(ps[:n-2]) < siphonLeast-aHair || now-mean(ps[:n-2]) < siphonLeast {
		return hinge{}, false // as nearly always
	}
	return p.climb(interval, 0, ps)
}

// lookAt is look of stretches, the newest of which must be more than a moment.
func (p proof) lookAt(stretches [][]point, interval time.Duration) (hinge, bool) {
	switch {
	case len(stretches) == 0:
		return hinge{}, false
	case len(stretches) == 1:
		return p.look(stretches[0], interval)
	}
	n, rose := 0, 0.0
	var some [][]point
	for i, ps := range stretches {
		if len(ps) >= fallPoints || i == len(stretches)-1 && len(ps) > 1 {
			n, rose, some = n+len(ps), rose+max(0, mean(ps[len(ps)-2:])-mean(ps)), append(some, ps)
		}
	}
	if len(stretches[len(stretches)-1]) < 2 || n < siphonPoints || rose < siphonLeast/2 {
		return hinge{}, false // as nearly always
	}
	return p.climb(interval, 0, last(some, mostStretches)...)
}

// climb is the climb that a level has begun, beyond what it may climb by itself,
// in its unit per hour. What came in or went out between two stretches, as a
// top-off does, is no part of it: each has a height of its own.
func (p proof) climb(interval time.Duration, may float64, stretches ...[]point) (hinge, bool) {
	n, step, newest := 0, -1.0, stretches[len(stretches)-1]
	var long time.Duration
	for _, ps := range stretches {
		n, long = n+len(ps), long+ps[len(ps)-1].at.Sub(ps[0].at)
	}
	freedom := n - 1 - len(stretches)
	if long >= quickFor {
		freedom = max(freedom, p.freedom)
	}
	first := 1
	if p.quick {
		first = 0
	}
	flat := flatten(stretches)
	for i := first; i <= len(siphonFor); i++ {
		ago := newest[len(newest)-1].at.Sub(newest[0].at)
		switch {
		case i < len(siphonFor):
			ago = siphonFor[i]
		case p.quick && len(stretches) > 1:
			ago = siphonCut
		case !p.whole:
			continue
		}
		h := flat.hinge(newest[len(newest)-1].at.Add(-max(ago, 2*interval)))
		if h.rise < max(siphonLeast, p.least) {
			continue // as nearly always
		}
		if step < 0 {
			step = finest(stretches)
		}
		noise := max(leastNoise, p.noise, step/math.Sqrt(12), math.Sqrt(h.rest/float64(n-1-len(stretches))))
		least := p.flicker * step
		if noise < step/3 {
			least = p.still * step
		}
		if ago == quickFor {
			least = max(least, quickLeast)
		}
		waver := p.waver
		if ago > waverLong {
			waver = p.wavers
		}
		free := freedom
		if waver > noise && p.bends > 0 {
			free = min(free, p.bends)
		}
		if h.rise >= least &&
			sigmas((h.perHour-may)*math.Sqrt(h.spread)/max(noise, waver), free) >= p.sigmas &&
			h.rest < jumpedIn(stretches)+p.jump*noise*noise {
			return h, true
		}
	}
	return hinge{}, false
}
