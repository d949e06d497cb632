package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// A level below its band for twice as long as a refill takes is not being brought
// back. That it is below is judged by the mean over all that time, or over an hour
// where that is longer, and by four of its standard errors: 3e-5 by chance, of the
// dozen looks apart that a level spends near the end of its band before each top-off,
// so once in ten years. A twentieth of a millimetre more is what readings of whole
// ones may be wrong by in the mean. Until three days have shown how low this tank's
// top-off lets it fall half a millimetre more is asked for, or half a step of a coarse
// sensor; where that is usually lower than its band, that counts.
const (
	failedErrors = 4.0
	// Of what the readings err by together two are asked for: four would be hours
	// of evaporation more at a level by echo. A tank of such a level is told of so falsely a
	// few times in a year.
	failedWavers  = 2.0
	failedMargin  = 0.05 // mm
	failedUnknown = 0.5  // mm
	failedKnown   = 3    // days
	failedLong    = time.Hour
	noEndTimes    = 3.0 // its band: no top-off lets a level fall further
	failedBack    = 0.5
	belowMost     = 1.0 // mm under it that a reading counts for, so that a plunge just now is not taken for long
	failedOff     = 5 * time.Minute
	failedStep    = 10.0             // mm further down is worth telling again
	longestRefill = 40 * time.Minute // twice that is within what is kept
	leastRuns     = 3                // that tell how long one takes
)

// topOffFailed: the level is below its band and nothing brings it back.
func topOffFailed(v *view, t *tank) {
	part := t.config.Equipment.TopOff
	if part == nil || t.unpowered(v) {
		return
	}
	f := finding{equipment: "top_off", off: failedOff}
	switch {
	case v.now < t.vessel.hands: // what they leave is looked at anew
		f.off = 0
		v.find(aquarium.TopOffFailed, t.config.ID, f)
		return
	case v.now < t.vessel.busy:
		return
	}
	f.prove = func() aquarium.Evidence { return t.failedEvidence(v) }
	s := t.parts.held
	on, known := t.parts.pump.isOn(v.now)
	ran := v.now.Sub(t.pump.since)
	seen := true
	over := part.BandMM > 0 && s.current(v.now) && s.value() > part.BandMM // what it brings then goes over the rim
	switch low, floats := t.on(part.Low, v.now); {
	case known && on && !over && ran > t.pump.most(t) && t.bringsNothing(v, ran):
		f.true, f.since = true, t.pump.since
	case s.current(v.now):
		if f.true, f.since = t.staysBelow(v, s); !f.true {
			f.true, f.on = t.drips(v, s, v.stands(aquarium.TopOffFailed, t.config.ID, f.equipment)), dripOn
		}
	case floats:
		dry := v.now.Sub(t.sensor(part.Low).since)
		f.true, f.since = !low && dry >= 2*t.refillTime(), t.sensor(part.Low).since
	default:
		seen = false
	}
	if s.current(v.now) {
		f.worse, f.step = -s.value(), failedStep
	}
	if !seen || !f.true && v.unheard(aquarium.TopOffFailed, t.config.ID, f.equipment) {
		return
	}
	if d, ok := t.levelMove(v); ok && d <= -levelMoved && !v.stands(aquarium.TopOffFailed, t.config.ID, f.equipment) {
		return // no air takes so much: what it leaves by is no want of a top-off
	}
	v.find(aquarium.TopOffFailed, t.config.ID, f)
}

// staysBelow reports whether the level has been below its band for twice as long
// as a refill takes, and since about when.
func (t *tank) staysBelow(v *view, s *series) (bool, aquarium.Instant) {
	limit := t.lowerEnd()
	if v.stands(aquarium.TopOffFailed, t.config.ID, "top_off") {
		return s.value() < limit+failedBack, 0
	}
	if t.topOff().BandMM <= 0 || s.value() > limit {
		return false, 0 // as nearly always
	}
	if by, is := t.vessel.scaled.told(s, v.now); is && s.value()/by > limit-scaledNear {
		return false, 0
	}
	if len(t.learned.Vessel.Lowest) < failedKnown {
		limit -= max(failedUnknown, t.vessel.step/2) - failedMargin
	}
	limit = t.vessel.beyond(limit)
	d := 2 * min(t.refillTime(), longestRefill)
	if x := &t.vessel; x.pumped != 0 && !t.pump.on && v.now.Sub(x.pumped) < d { // it has just brought some
		return false, 0
	}
	if at := t.vessel.slip.at; at != 0 && v.now.Sub(at) < d { // then it was not below
		return false, 0
	}
	back := t.topOff().BandMM        // in half of that time the pump should bring twice as much
	calm := v.now.Sub(t.vessel.busy) // before that the pump may have been held back
	return calm >= d && t.below(v, s, d, limit, back) || d < failedLong && calm >= failedLong && t.below(v, s, failedLong, limit, back), v.now.Add(-d)
}

// below reports whether the mean of the last d is clearly below a limit, and that of
// both its halves too: what fell below just now may yet be brought back. A level that
// comes back by more than a mark from one half to the other is.
func (t *tank) below(v *view, s *series, d time.Duration, limit, back float64) bool {
	ps := s.filled(v.now, d)
	if len(ps) < 6 || ps[len(ps)-1].at.Sub(ps[0].at) < d-2*s.step()-aquarium.Step {
		return false
	}
	half := len(ps) / 2
	first, second := mean(ps[:half]), mean(ps[half:])
	if second >= limit-failedMargin || second-first >= back {
		return false // as nearly always
	}
	var l line
	plunged := 0.0
	for i, p := range ps {
		if l.take(p); i < half {
			plunged += min(0, p.v-limit+belowMost) / float64(half)
		}
	}
	err := failedErrors * l.error()
	if s == t.level { // a handful may be alike by chance
		err = max(err, failedErrors*s.wave.noise()/math.Sqrt(float64(l.n)), failedWavers*t.errs(d)/math.Sqrt(float64(l.n)))
	}
	return l.mean()+err < limit-failedMargin && first-plunged < limit-failedMargin
}

// lowerEnd is the lower end of the band, or where this tank's top-off usually lets
// the level fall to: the second lowest day's, for one that went wrong is no rule.
// Where the lowest days lie apart, the sensor wanders against the one that the pump
// goes by, and the next may be as much lower still.
func (t *tank) lowerEnd() float64 {
	if m := &t.lowMemo; !m.holds(t.learned, 0) {
		*m = memo{of: t.learned, v: t.lowest()}
	}
	return t.lowMemo.v
}

func (t *tank) lowest() float64 {
	var low [4]float64
	band := t.topOff().BandMM
	for _, mm := range t.learned.Vessel.Lowest {
		if mm < -noEndTimes*band { // somebody took water out
			continue
		}
		for i := range low {
			if mm < low[i] {
				low[i], mm = mm, low[i]
			}
		}
	}
	if low[1] >= -band {
		return -band
	}
	apart := 0.0
	for _, mm := range low[1:] {
		if mm < -band+failedUnknown/2 { // it came down to its end on that day
			apart = mm - low[0]
		}
	}
	return low[1] - min(failedUnknown, apart)
}

// upperEnd is the upper end of the band, or where this tank's top-off usually lets
// the level come to, and by how much days differ in that; known once some have shown
// it: a sensor that wanders against the one that the pump goes by reads its end too high
// or too low. The second highest day counts, and no more than a pump may run on for.
func (t *tank) upperEnd() (mm, differ float64, known bool) {
	if m := &t.highMemo; !m.holds(t.learned, 0) {
		*m, t.apartMemo = t.highest()
	}
	return t.highMemo.v, t.apartMemo.v, t.highMemo.n >= failedKnown
}

func (t *tank) highest() (mm, differ memo) {
	band, days := t.topOff().BandMM, t.learned.Vessel.Uppermost
	mm, differ = memo{of: t.learned, n: len(days), v: band}, memo{of: t.learned, n: len(days)}
	if len(days) < failedKnown {
		return mm, differ
	}
	first, second, least := 0.0, 0.0, math.Inf(1)
	for _, mm := range days {
		if mm > first {
			first, second = mm, first
		} else {
			second = max(second, mm)
		}
		if mm > band-failedUnknown/2 { // it came up to its end on that day
			least = min(least, mm)
		}
	}
	most := band + runsOn
	mm.v, differ.v = min(most, max(band, second)), max(0, min(most, first)-least)
	return mm, differ
}

// refillTime is how long the top-off takes from one end of its band to the other:
// by its rate, else by what its runs have taken, else the most that is allowed.
func (t *tank) refillTime() time.Duration {
	part := t.topOff()
	if perMM := t.config.Size.LitresPerMM(); part.RateLH > 0 && part.BandMM > 0 && perMM > 0 {
		return max(leastRun, time.Duration(2*part.BandMM*perMM/part.RateLH*float64(time.Hour)))
	}
	on, turns := 0.0, 0
	for _, d := range last(t.learned.Sensors[part.Pump].Days, vesselDays) {
		on, turns = on+d.Mean*day.Hours(), turns+d.Turns
	}
	if turns >= leastRuns {
		return max(leastRun, time.Duration(on/float64(turns)*float64(time.Hour)))
	}
	return mostRun
}

func (t *tank) failedEvidence(v *view) aquarium.Evidence {
	part := t.topOff()
	e := aquarium.Evidence{Sensor: part.Low}
	if s := t.sensor(part.Level); s.current(v.now) {
		e = aquarium.Evidence{Sensor: part.Level, Value: s.value(), Unit: "mm", Limit: of(-part.BandMM)}
		if p, ok := t.trend(s, v.now, time.Hour); ok {
			e.PerHour = of(p)
			if fill := t.config.Size.FillCM; fill > 0 && p < 0 {
				e.HarmIn = timeLeft(10*fill*intakeDepth+s.value(), -p)
				e.Facts = append(e.Facts, word(FactAssumed, "intakes a third down"))
			}
		}
		if t.pump.on && t.pump.known {
			e.Expected = of(min(part.BandMM, t.pump.began+t.pump.brings(t, v.now)))
		}
	}
	on, known := t.on(part.Pump, v.now)
	e.Facts = append(e.Facts, word(FactPump, stateWord(on, known, "on", "off")), lasting(FactNeed, t.refillTime()))
	if known && on {
		e.Facts = append(e.Facts, lasting(FactRun, v.now.Sub(t.pump.since)))
	}
	if store := t.sensor(part.From); store.current(v.now) && store.value() >= lowUnknown {
		e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookStore, Because: num(FactStored, store.value(), "l")})
	} else if store.current(v.now) {
		e.Facts = append(e.Facts, num(FactStored, store.value(), "l"))
	}
	e.Excluded = append(e.Excluded, t.powered(v)...)
	return e
}

func blindTopOffFailed(t *aquarium.Tank) string {
	p := t.Equipment.TopOff
	switch {
	case p == nil:
		return "no top_off under equipment"
	case p.Level == "" && p.Low == "":
		return "neither a level nor a low float under top_off"
	case p.Level != "" && p.BandMM <= 0 && p.Low == "":
		return "no band_mm under top_off"
	}
	return ""
}
