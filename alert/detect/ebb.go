package detect

import (
	"math"
	"time"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// Between one top-off and the next a level falls by what evaporates, and by what
// leaks. Each hour of that is measured by one straight line through all readings
// of the water at rest, and what it fell by beyond what the air may take is summed
// by a CUSUM, hour by hour: an hour's slope knows a litre an hour to about two
// tenths, and no more than a few hours are needed.
const (
	ebbHour  = time.Hour
	ebbCover = 20 * time.Minute // of an hour that must have been at rest
	// ebbError is the most the standard error of an hour may be, l/h. One that is rougher than
	// ebbFine by its own scatter, of which readings that err together make three times as much,
	// is measured with the next ones, up to half a day: a line through two hours knows its slope
	// three times as well.
	ebbError = 0.6
	ebbFine  = 0.1
	ebbLong  = 12 * ebbHour
	// A rise by more than noise is water that comes in, with or without a
	// switch that tells; a fall at once is a sensor that slipped or a stone
	// that was taken out.
	ebbRise = 2.5 // mm
	// Noise alone must not cut an hour into stretches that all begin high and
	// end low. The medians of an hour lie within six to seven standard
	// deviations of each other (range of 240 normal values, from memory: 5.6).
	ebbRange = 6.5
	ebbJump  = 3.0 // mm between two readings; or, of a noisy level, so many of its deviations
	ebbJumps = 4.0
	// ... but a top-off from end to end of its band must be seen.
	ebbMost  = 4 * ebbRise
	ebbTopUp = 0.75
	// ebbSlack is what may be lost beyond evaporation, l/h, without ever being
	// told: half of the litre that is to be found, less some.
	ebbSlack = 0.4
	// ebbApart is how far apart false alarms of one tank are to be on average.
	// With an hour's error of 0.2 l the slack alone is two of it and the
	// interval is given by the resolution below: 8 standard errors, far beyond.
	ebbApart = 100 * 365 * day
	// ebbSteps of a sensor's, or of a millimetre where they are finer, are the least
	// interval: one that has no noise jumps by one in an hour, which a line takes for
	// one and a half.
	ebbSteps = 2.0
	// ebbShare of the interval is the most one hour counts for, so that two
	// must agree.
	ebbShare = 0.6
)

// ebb follows the level while nothing moves it but air and leaks.
type ebb struct {
	taken  aquarium.Instant // the newest reading looked at
	hour   aquarium.Instant // the present one; 0: none yet
	ends   aquarium.Instant // when it is over
	most   float64          // mm, that water which comes in may have to rise by to be seen
	line   line             // of the present stretch at rest
	sum    pooled           // of the hour's stretches before it
	low    float64          // of the present stretch
	lowest line             // the stretch up to there
	noise  float64          // of the medians about their lines in the last hour, mm; 0: not known
	last   float64          // reading, as the median of three
	tens   block            // ten minutes' mean, for the lowest and the highest
	cusum  statistic.Cusum  // litres beyond the allowance
	limit  float64          // its interval, l
	judged aquarium.Instant // when an hour was last measured
	since  aquarium.Instant // when the sum was last at zero
	lost   float64          // in the last hour measured, l/h
	apart  hoursApart
	may    float64 // what it might have lost
}

// follow takes in the level's newest readings, and the hour once it is over.
func (b *ebb) follow(t *tank, v *view, visit bool) {
	s, x := t.level, &t.vessel
	if s == nil {
		return
	}
	if on, known := t.parts.pump.isOn(v.now); known && on {
		x.pumped = v.now
	}
	if b.most == 0 {
		if b.most = ebbMost; t.topOff().BandMM > 0 {
			b.most = max(2*ebbRise, ebbTopUp*2*t.topOff().BandMM)
		}
	}
	if b.hour != 0 && v.now >= b.ends {
		b.fold(t, v)
	}
	if visit { // whoever is there sees a leak, and mends one
		b.cusum.Restart(0)
		b.since = 0
	}
	i := len(s.points)
	for i > 0 && s.points[i-1].at > b.taken {
		i--
	}
	for ; i < len(s.points); i++ {
		if i >= 2 {
			x.differ(s.points[i].v, s.points[i-1].v)
			b.take(x, point{s.points[i].at, middle(s.points[i-2 : i+1])}, s.points[i].at.Sub(s.points[i-1].at), s)
		}
		b.taken = s.points[i].at
	}
}

// take adds a reading to the stretch, or begins a new one.
func (b *ebb) take(x *vessel, p point, gap time.Duration, s *series) {
	resting := p.at >= x.unrest && (x.pumped == 0 || p.at >= x.pumped.Add(settled))
	b.tens.take(p, resting, x, s.wave.noise())
	if b.hour == 0 {
		b.hour = p.at.Floor(ebbHour)
		b.ends = b.hour.Add(ebbHour)
	}
	switch {
	case p.v > b.low+b.rise(x.step) && b.line.n > 0: // water has come in since it was lowest
		b.line = b.lowest
		b.end()
	case !resting || gap > max(2*time.Minute, 3*s.interval()) || math.Abs(p.v-b.last) > max(ebbJump, ebbJumps*b.noise):
		b.end()
	}
	if resting {
		first := b.line.n == 0
		b.line.take(p)
		if first || p.v <= b.low {
			b.low, b.lowest = p.v, b.line
		}
	}
	b.last = p.v
}

// rise is what a level must rise by for water to have come in, mm. Readings in coarse
// steps lie up to one further apart than the water does, and an hour's noise is that of
// how they happened to fall.
func (b *ebb) rise(step float64) float64 {
	if step < waveCoarse {
		step = 0
	}
	return max(ebbRise, min(ebbRange*b.noise+step, b.most))
}

// restart begins another hour.
func (b *ebb) restart() {
	b.hour, b.line, b.sum = 0, line{}, pooled{}
}

// end closes the present stretch.
func (b *ebb) end() {
	b.sum.take(&b.line)
	b.line = line{}
}

// fold measures the hour that is over, or goes on with the next where that tells too little.
func (b *ebb) fold(t *tank, v *view) {
	sum, hour := b.sum, b.hour
	sum.take(&b.line)
	perMM, _ := t.perMM()
	step := t.vessel.step
	cut := b.rise(step)
	if sum.n > 0 { // else nothing was at rest
		b.noise = sum.noise()
	}
	slope, se, ok := sum.slope()
	se *= perMM
	noise, x := t.level.wave.noise(), &t.vessel.waver
	if fine := cut >= b.rise(step)-ebbRise/4; fine && ok && se > ebbFine && v.now.Floor(ebbLong) < v.now {
		b.ends = b.ends.Add(ebbHour)
		return
	} else if b.restart(); !fine {
		return
	}
	if !ok || se > ebbError || sum.covered < ebbCover {
		return
	}
	lost := -slope * perMM // l/h
	allowed := t.allowance(v)
	if d, ok := t.vessel.dayOf(hour); ok {
		h := sum.covered.Hours()
		d.hours, d.litres = d.hours+h, d.litres+lost*h
		if model, ok := t.airModel(v); ok {
			d.model, d.modelled = d.model+model*h, d.modelled+h
		}
	}
	// What readings err by alike for some minutes is in what they lie beside the line
	// already; how far hours are apart tells of what errs for longer.
	se = min(se*x.times(noise, step), max(se*x.times(max(noise, b.noise), step), b.apart.take(hour, lost)))
	b.add(hour, lost, allowed, se, ebbSteps*max(1, t.vessel.step)*perMM/max(1, sum.covered.Hours()))
	b.judged, b.lost, b.may = b.ends, lost, allowed+ebbSlack
}

// add sums up what an hour lost beyond what it may, l/h, of which less than least tells
// nothing. What rough hours lost is worth the less the rougher they were: the sum goes
// over from one hour's interval to the next one's as its share of it, or a calm hour in
// which nothing was lost would tell a leak for what they only may have.
func (b *ebb) add(hour aquarium.Instant, lost, allowed, se, least float64) {
	limit := max(least, siegmund(ebbSlack, se, statistic.Looks(ebbApart, ebbHour)))
	if b.limit > 0 {
		b.cusum.Up *= limit / b.limit
	}
	b.limit, b.cusum.K = limit, ebbSlack
	b.cusum.Take(min(lost-allowed, ebbSlack+ebbShare*limit))
	b.cusum.Up = min(b.cusum.Up, 2*limit) // so that a leak that was mended is soon over
	if b.cusum.Up == 0 {
		b.since = 0
	} else if b.since == 0 {
		b.since = hour
	}
}

// hoursApart is what hours of a level are apart from the ones before: one that wanders
// for longer than minutes has slopes that its readings know nothing of.
type hoursApart struct {
	at   aquarium.Instant       // the newest hour
	lost float64                // in it
	by   [hoursCompared]float64 // what the last ones were apart, l/h
	n    int
}

const (
	hoursCompared = 12
	hoursTell     = 6
	// The median of what two values differ by, in standard deviations of one: any textbook's.
	hoursMedian = 0.6745 * math.Sqrt2
)

// take adds what an hour lost, and returns what one is wrong by as far as that shows, l/h.
func (x *hoursApart) take(hour aquarium.Instant, lost float64) float64 {
	if gap := hour.Sub(x.at); x.at != 0 && gap <= 2*ebbHour {
		x.by[x.n%hoursCompared] = math.Abs(lost - x.lost)
		x.n++
	}
	x.at, x.lost = hour, lost
	if x.n < hoursTell {
		return 0
	}
	all := x.by
	kept := all[:min(x.n, hoursCompared)]
	return nth(kept, len(kept)/2) / hoursMedian
}

// dayOf is the day a moment is in, to be added to.
func (x *vessel) dayOf(at aquarium.Instant) (*vesselDay, bool) {
	for i := range x.days {
		if x.days[i].at == at.Floor(day) {
			return &x.days[i], true
		}
	}
	return nil, false
}

// loses reports whether the hours' sum has passed its interval; one that stands is
// over below half of it.
func (b *ebb) loses(stood bool) bool {
	limit := b.limit
	if stood {
		limit /= 2
	}
	return limit > 0 && b.cusum.Up > limit
}

// siegmund is the decision interval, in the values' unit, at which a one-sided
// CUSUM of slack k signals falsely once in that many values of standard deviation
// sd (Siegmund 1985, as in Montgomery, section 9.1.3: ARL = (exp(2kh') - 2kh' - 1) / 2k^2,
// h' = h + 1.166, less its small terms). The integral equation is
// CusumLimit, which takes too long here; the test holds one to the other.
func siegmund(k, sd, runLength float64) float64 {
	k /= sd
	return max(0, sd*(math.Log(2*k*k*runLength+1)/(2*k)-1.166))
}
