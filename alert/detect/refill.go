package detect

import (
	"math"
	"slices"
	"time"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// How the reservoir fills is followed run by run: from the switch where one tells,
// else from what is stored, which rises by more than noise.

// Common practice, no source.
const (
	refillRise  = 2.0 // l within refillSeen is filling, and half of it that it goes on
	refillSeen  = 10 * time.Minute
	refillShare = 0.25             // of what a small unit makes brings that within what is looked at
	refillLeast = 10 * time.Minute // of a run that tell its rate
	refillError = 0.04             // of the rate, its standard error at the most
	// ... of a filling over in less than half an hour, which its middle must tell
	refillQuick = 0.06
	refillEnds  = 0.15 // of the rise, at both ends: not its middle
	// Standard errors that a rise is away from nothing: 3e-6 by chance.
	refillErrors = 4.5
	// Mains water warms and cools by a few degrees a month, at 3 % each.
	refillsUsual = 5
	refillsFor   = 60 * day
	startLike    = 1.5 // times what is usual, or a part, is a filling by how fast it is
)

// Refill is one filling of the reservoir.
type Refill struct {
	At      aquarium.Instant `json:"at"`   // when it ended
	LitresH float64          `json:"l_h"`  // that came in, while nothing was drawn
	From    float64          `json:"from"` // l that were stored when it began
}

// refill follows the present filling.
type refill struct {
	on    bool // it fills, as commanded or as seen
	since aquarium.Instant
	from  float64 // l
	need  float64 // l to full then
	drew  bool    // somebody was at work then, and may have drawn it down
	// It is one by how the store rises.
	steady bool
	taken  aquarium.Instant
	line   line
	sum    pooled
	// Without a switch the end is seen only when no more comes: so what was
	// measured is kept until the next stretch is over.
	seen, sure pooled
	marked     aquarium.Instant // when that was last done
	drawn      float64          // l that the top-off took meanwhile
	block      line             // five minutes of what is stored
	at         aquarium.Instant // ... when they began
	told       point            // what was last stored, as far as was heard
}

const storeBlock = 5 * time.Minute

func (r *refill) follow(t *tank, v *view) {
	part := t.config.Equipment.Reservoir
	s := t.parts.stored
	if !s.current(v.now) {
		return
	}
	r.told = point{v.now, s.value()}
	on, since, from := r.filling(t, v, s)
	switch {
	case on && (!r.on || since != r.since && part.Refill != ""):
		*r = refill{on: true, since: since, from: from, taken: r.taken, block: r.block, at: r.at, told: r.told}
		r.need = max(0, part.CapacityL-r.from)
		r.drew = since < t.vessel.busy
	case !on && r.on:
		r.close(t, v)
	}
	if pumping, _ := t.parts.pump.isOn(v.now); r.on && pumping {
		r.drawn += t.topOff().RateLH * aquarium.Step.Hours()
	} else if missing := part.CapacityL - s.value(); r.on && missing > r.need+refillRise && r.used(t, v, s) {
		r.need = missing
	}
	r.take(t, v, s)
}

// used reports whether the store falls faster than it usually fills: somebody takes what
// must come back besides.
func (r *refill) used(t *tank, v *view, s *series) bool {
	before, ok := s.at(v.now.Add(-storeBlock))
	usual, _ := t.usualRefill(v.now)
	return ok && before-s.value() > usual*storeBlock.Hours()
}

// filling reports whether the reservoir fills, since when, and what it held then.
func (r *refill) filling(t *tank, v *view, s *series) (on bool, since aquarium.Instant, from float64) {
	if on, known := t.parts.refill.isOn(v.now); known {
		return on, t.parts.refill.since, s.value()
	}
	for _, d := range t.refillSpans(v.now) {
		if d == 0 {
			break // as nearly always
		}
		before, ok := s.when(v.now.Add(-d), v.now)
		switch rise := s.value() - before; {
		case ok && r.on && rise >= refillRise/2:
			if v.now.Sub(r.marked) >= d {
				r.sure, r.seen, r.marked = r.seen, r.sum, v.now
				r.seen.take(&r.line)
			}
			return true, r.since, r.from
		case ok && rise >= refillRise && rises(s.window(v.now, d)):
			began := lowestOf(s.window(v.now, d))
			return true, began.at, min(before, began.v)
		}
	}
	return false, 0, 0
}

// lowestOf is where points were lowest, as the median of three, and when they last were.
func lowestOf(ps []point) point {
	low := point{ps[0].at, math.Inf(1)}
	for i := 2; i < len(ps); i++ {
		if m := middle(ps[i-2 : i+1]); m <= low.v {
			low = point{ps[i-1].at, m}
		}
	}
	return low
}

// refillSpans is how long the store is looked at to see it fill: up to half an hour too
// at a small unit, so that one is seen that makes a quarter of what it should.
func (t *tank) refillSpans(at aquarium.Instant) (spans [2]time.Duration) {
	spans[0] = refillSeen
	usual, _ := t.usualRefill(at)
	if usual > 0 && usual*refillSeen.Hours()*refillShare < refillRise {
		spans[1] = min(slowFor, time.Duration(refillRise/refillShare/usual*float64(time.Hour)))
	}
	return spans
}

// rises reports whether readings rise beyond their noise.
func rises(ps []point) bool {
	perHour, se, ok := paceOf(ps)
	return ok && perHour > refillErrors*se
}

// paceOf is the slope of one stretch and its standard error.
func paceOf(ps []point) (perHour, se float64, ok bool) {
	var l line
	for _, p := range ps {
		l.take(p)
	}
	var sum pooled
	sum.take(&l)
	return sum.slope()
}

// take adds what came since the last tick; while the top-off draws, and just after,
// nothing is measured.
func (r *refill) take(t *tank, v *view, s *series) {
	ps := s.points
	i := len(ps)
	for i > 0 && ps[i-1].at > r.taken {
		i--
	}
	r.steady = r.steady || r.on && r.isFilling(t, v, s)
	drawn := t.vessel.pumped != 0 && v.now < t.vessel.pumped.Add(settled) || v.now < t.vessel.busy
	for _, p := range ps[i:] {
		r.taken = p.at
		if at := p.at.Floor(storeBlock); at != r.at {
			if r.block.n >= 3 {
				t.vessel.days[0].highest = max(t.vessel.days[0].highest, r.block.mean())
				t.vessel.rest.take(&t.vessel.days[0], r.block.mean(), r.on)
				if t.config.Equipment.Reservoir.Refill == "" {
					t.vessel.call.take(t, v, r.block.mean())
				}
			}
			r.at, r.block = at, line{}
		}
		r.block.take(p)
		if !r.on {
			continue
		}
		if drawn {
			r.rest()
			continue
		}
		r.line.take(p)
	}
}

func (r *refill) rest() {
	r.sum.take(&r.line)
	r.line = line{}
}

// rate is what comes in, l/h, and its standard error; false where too little of the
// run was seen.
func (r *refill) rate(t *tank) (litresH, se float64, ok bool) {
	sum := r.sure
	if t.config.Equipment.Reservoir.Refill != "" {
		sum = r.sum
		sum.take(&r.line)
	}
	litresH, se, ok = sum.slope()
	return litresH, se, ok && sum.covered >= refillLeast && se <= max(refillError*litresH, 1)
}

// close ends a run: what it came to is kept with its day.
func (r *refill) close(t *tank, v *view) {
	rate, _, ok := r.rate(t)
	if !ok && t.config.Equipment.Reservoir.Refill == "" && v.now.Sub(r.since) < slowFor+refillSeen {
		rate, ok = quickRate(t.parts.stored.window(v.now, v.now.Sub(r.since)))
	}
	if ok && rate > 0 {
		t.vessel.days[0].refill = Refill{At: v.now, LitresH: digits(rate), From: digits(r.from)}
	}
	if full := t.config.Equipment.Reservoir.CapacityL; r.steady && !r.drew && (full <= 0 || r.from < full) { // what goes on past full was not called for
		t.vessel.days[0].start, t.vessel.days[0].started = digits(r.from), r.since
	}
	*r = refill{taken: r.taken, at: r.at, block: r.block, told: r.told}
}

// quickRate is what came in, l/h, by the middle of a filling that is over soon: what was
// drawn when it began and a float that closes slowly are at its ends.
func quickRate(ps []point) (litresH float64, ok bool) {
	if len(ps) < 3 {
		return 0, false
	}
	low, high := lowestOf(ps).v, math.Inf(-1)
	for i := 2; i < len(ps); i++ {
		high = max(high, middle(ps[i-2:i+1]))
	}
	from, to := low+refillEnds*(high-low), high-refillEnds*(high-low)
	first := slices.IndexFunc(ps, func(p point) bool { return p.v >= from })
	end := slices.IndexFunc(ps, func(p point) bool { return p.v > to })
	if first < 0 || end <= first {
		return 0, false
	}
	rate, se, ok := paceOf(ps[first:end])
	return rate, ok && se <= refillQuick*rate
}

// isFilling reports whether the store rises steadily and about as fast as the unit usually
// makes it, though it may do so for too short to tell how fast that is: a bucket does not.
func (r *refill) isFilling(t *tank, v *view, s *series) bool {
	usual, _ := t.usualRefill(v.now)
	rise, steady := thirds(s.window(v.now, refillSeen))
	litresH := rise / refillSeen.Hours()
	return steady && litresH > usual/startLike && litresH < usual*startLike
}

// usualRefill is what the reservoir usually takes in, l/h: the median of its last
// fillings, which follows the mains through the seasons, for nobody measures its
// warmth; and how many there were. Without any it is the configured production.
func (t *tank) usualRefill(at aquarium.Instant) (litresH float64, known int) {
	m := &t.refillMemo
	if !m.holds(t.learned, at) {
		*m = memo{of: t.learned, from: at, until: never, v: t.config.Equipment.Reservoir.ProductionLH}
		var rates []float64
		for _, x := range last(t.learned.Vessel.Refills, refillsUsual) {
			if at.Sub(x.At) < refillsFor {
				rates = append(rates, x.LitresH)
				m.until = min(m.until, x.At.Add(refillsFor))
			}
		}
		if m.n = len(rates); m.n > 0 {
			m.v = statistic.Median(rates)
		}
	}
	return m.v, m.n
}

// comes reports whether water is seen to come into the reservoir.
func (r *refill) comes(t *tank, v *view) bool {
	s := t.parts.stored
	for _, d := range t.refillSpans(v.now) {
		if before, ok := s.at(v.now.Add(-d)); r.on && d > 0 && ok && s.value()-before >= refillRise {
			return true
		}
	}
	return false
}
