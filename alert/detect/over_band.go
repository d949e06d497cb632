package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// When a level is over its band, and when it only seems so: by its noise, by waves, by what
// the pump brings in a moment.

// overBand looks at the level, or at the high float where there is no level; it
// reports whether it could be seen that all is well. A pump with neither is off
// or it is not.
func (t *tank) overBand(v *view, f *finding) bool {
	part := t.config.Equipment.TopOff
	on, known := t.parts.pump.isOn(v.now)
	still := known && !on && !t.filling(v)
	stood := v.stands(aquarium.TopOffRunaway, t.config.ID, f.equipment)
	s := t.parts.held
	if !s.current(v.now) {
		high, seen := t.on(part.High, v.now)
		f.true = seen && high && (stood || on || !known)
		if !f.true && t.climbsBeside(v, stood) {
			f.true, f.on = true, 0
		}
		return seen || part.Level == "" && part.High == "" && known
	}
	f.worse, f.step = s.value(), runStep
	end, differ, learned := t.upperEnd()
	if by, is := t.vessel.scaled.told(s, v.now); is { // in another unit, or so it seems
		f.true, f.on = s.value()/by > end+runawayMargin+scaledNear, runawayStill
		return true
	}
	most := end + pouredMost
	if on { // what pours in is not theirs alone
		most = end + runStep
	}
	f.beyond = s.toppedBy(v.now, most) || stood && s.value() > most
	if v.now < t.vessel.hands && !on && (!f.beyond || v.visited(t.config.ID)) { // whoever is there pours it in
		return true
	}
	if stood { // the pump being pulled does not lower the water
		climb, ok := t.moves(v, s)
		f.true = s.value() > end-s.wavers(part.BandMM) || ok && climb > stillClimbs
		return true
	}
	margin := runawayMargin
	if on && v.now.Sub(t.pump.since) > t.pump.need(t)*3/2 {
		margin /= 2
	}
	limit := t.vessel.beyond(end + margin)
	if t.filling(v) {
		limit = max(limit, end+changeMargin)
	} else if left := t.vessel.left; left.known && !on { // water was let in, and no more comes
		limit = max(limit, left.mm+2*runawayMargin)
	}
	leapt := false
	if f.beyond {
		f.true, f.on = true, 0
	} else if since, n := s.run(func(v float64) bool { return v > limit }); n >= 2 {
		f.true, f.since = true, since
		switch {
		case s.waves(v.now):
			f.true, f.on = n >= wavesReads, wavesOn
		case t.leaps(s, since): // no pump does that: a splash is given what there is, and a third reading must say so
			leapt = true
			f.on = max(f.on, min(wavesOn, runawayTold-s.interval()-2*aquarium.Step))
			// It may come a little later than is usual, and be held back for being far off.
			f.true = s.wave.v > limit && (n > 2 || v.now.Sub(since) >= wavesOn)
		}
		if still { // a relay may be welded all the same, and a splash lies in two readings at the most
			f.true = f.true && n > 2
		}
		sure := overErrors
		if on {
			sure = pouringErrors
		}
		f.true = f.true && t.surelyOver(last(s.points, n), end, differ, sure)
	}
	if f.true || leapt {
		return true
	}
	f.since = 0
	mark := max(end+differ, limit-margin)
	if len(t.learned.Vessel.Uppermost) < overDays {
		mark = max(mark, limit)
	}
	if learned && s.value() > mark && t.over(v, mark, still) {
		f.true, f.on = true, 0
	} else {
		f.true, f.on = t.siphons(v, s) && !s.waves(v.now), 0
		if t.vessel.step >= waveCoarse { // of which a few readings more say that it goes on
			f.on = runawayOn
		}
	}
	return true
}

// climbsBeside reports whether water runs in by a level that the top-off does not go by.
func (t *tank) climbsBeside(v *view, stood bool) bool {
	s := t.level
	switch {
	case t.topOff().Level != "" || v.now < t.vessel.hands || !s.current(v.now):
		return false
	case stood:
		climb, ok := t.moves(v, s)
		return ok && climb > stillClimbs
	}
	return t.siphons(v, s) && !s.waves(v.now)
}

// surelyOver reports whether readings are together further above a mark than they err by,
// and than it differs by: of a sensor that errs by more than the margin two in a row are
// over it every few days, and one that wanders for hours is so for hours.
func (t *tank) surelyOver(ps []point, mm, differ, sure float64) bool {
	err := t.errs(overFor)
	if short, _ := t.usually(); short == 0 && t.vessel.waver.short.noise == 0 { // in its first hours it is not waited for
		err = t.level.wave.noise()
	}
	least := sure * err / math.Sqrt(float64(len(ps)))
	return mean(ps)-mm > math.Hypot(differ, least)
}

// wavers is how far under a mark the readings of a level must be for it to be under it
// and not to be told again by its noise: beyond what the margin is for, two standard
// deviations, and at most half of the band.
func (s *series) wavers(band float64) float64 {
	return max(0, min(band/2, 2*s.wave.noise()-runawayMargin/2))
}

// toppedBy reports whether the level is above a mark and still climbs, whatever waves
// there are: by the mean of some minutes and three of its standard errors.
func (s *series) toppedBy(now aquarium.Instant, mm float64) bool {
	if s.value() <= mm {
		return false // as nearly always
	}
	ps := s.window(now, max(wavesFor, 4*s.interval()))
	n := len(ps)
	if n < fallPoints {
		return false
	}
	if ps[n-3].v <= mm { // two false echoes are a rise too
		return false
	}
	sure := beyondErrors * scatter(ps) / math.Sqrt(float64(n))
	return mean(ps)-sure > mm && mean(ps[n/2:])-mean(ps[:n/2]) > max(sure, leastNoise)
}

// over reports whether the level is clearly above a mark by the mean of some minutes; of
// one whose readings err by so much that few of them tell too little, by more.
func (t *tank) over(v *view, mm float64, still bool) bool {
	s, noise := t.parts.held, max(leastNoise, t.errs(overFor))
	d := overFor
	if still {
		d = runawayStill
	}
	for ; ; d += d / 2 {
		d = max(d, 2*s.interval())
		if s.over(v.now, d, mm, noise) {
			return true
		}
		if n := float64(d) / float64(max(s.interval(), aquarium.Step)); d >= overLong || overErrors*noise < runawayMargin*math.Sqrt(n) {
			return false
		}
	}
}

// over reports whether the mean of the last minutes is clearly above a level, and
// still is at their end; no reading counts for more than makes sure, or a splash would
// do. While nothing pours there is time for more of them.
func (s *series) over(now aquarium.Instant, d time.Duration, mm, noise float64) bool {
	ps := s.window(now, d)
	n := len(ps)
	if n < 3 || s.waves(now) {
		return false
	}
	step := resolution(s.points)
	least := overErrors*noise/math.Sqrt(float64(n)) + overBias*step
	if noise < step/4 {
		least = overSteps * step
	}
	most := mm + 2*least
	var first, second float64 // half
	for i, p := range ps {
		if p.v < mm-least {
			return false // a splash: two readings far over it pull the mean of three with them
		}
		if i < n/2 {
			first += min(p.v, most)
		} else {
			second += min(p.v, most)
		}
	}
	return (first+second)/float64(n) > mm+least && second/float64(n-n/2) > mm+least
}

// waves reports whether the last readings scatter, and not only as they do by themselves.
func (s *series) waves(now aquarium.Instant) bool {
	return s.scatters(now, max(wavesScatter, wavesTimes*s.wave.noise()))
}

// scatters reports whether the last readings do by more than so many millimetres.
func (s *series) scatters(now aquarium.Instant, mm float64) bool {
	ps := s.window(now, max(wavesFor, 6*s.interval())) // one or two may be held back
	return len(ps) >= fallPoints && scatter(ps) > mm
}

// moves is how fast a level that was told has climbed of late, mm/h. The median slope of
// readings in coarse steps is nothing for hours, so of these it is the mean one of twice
// the time.
func (t *tank) moves(v *view, level *series) (perHour float64, ok bool) {
	if t.vessel.step < waveCoarse {
		return t.trend(level, v.now, climbWindow)
	}
	ps := level.held(v.now, 2*climbWindow)
	if len(ps) < siphonPoints {
		return 0, false
	}
	return hingeOf(ps, ps[0].at).perHour, true
}

// leaps reports whether the level has risen since before then by more than the
// top-off brings: a splash does, and where readings come seldom two of them may lie
// in one.
func (t *tank) leaps(s *series, at aquarium.Instant) bool {
	perMM := t.config.Size.LitresPerMM()
	before := s.upTo(at - 1)
	if len(before) == 0 || perMM <= 0 {
		return false
	}
	a := before[len(before)-1]
	for _, b := range [...]point{s.points[len(before)], s.points[len(s.points)-1]} { // the first since then, and the last
		if b.v-a.v > leapTimes*t.topOff().RateLH/perMM*b.at.Sub(a.at).Hours()+leapNoise {
			return true
		}
	}
	return false
}
