package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// Common practice, no source.
const (
	// The least a run is given to bring what can be seen of it.
	leastRun = 3 * time.Minute
	// A pump that only tops the last millimetre is not blamed for the sensor's
	// resolution, nor one that is touched in passing.
	leastDeficit = 2.0 // mm, or so many times a level's noise
	deficitReads = 4.0
	briefRun     = time.Minute
	// The most a run may take where neither volume nor rate is known.
	mostRun = 30 * time.Minute
	// What a level of whole millimetres may have been read too low by when the
	// run began.
	runReads = 0.6 // mm
)

// pumpRun follows the top-off pump's present run.
type pumpRun struct {
	on      bool
	since   aquarium.Instant
	began   float64 // the level when it began, mm
	seen    bool    // that is known
	deficit float64 // mm to the top of the band
	known   bool    // ... and that
	store   float64 // what it draws on then, l
	stored  bool    // that is known
}

func (r *pumpRun) follow(t *tank, at aquarium.Instant) {
	part := t.config.Equipment.TopOff
	if part == nil {
		return
	}
	on, known := t.parts.pump.isOn(at)
	if !known {
		return
	}
	if on && (!r.on || r.since != t.parts.pump.since) {
		r.since = t.parts.pump.since
		r.store, r.stored = t.sensor(part.From).when(r.since, at)
		r.began, r.seen = t.level.when(r.since, at)
		r.known = r.seen && part.Level != ""
		r.deficit = max(0, part.BandMM-r.began)
	}
	if s := t.sensor(part.Level); on && r.known && s.current(at) { // what leaves meanwhile is to be brought in too, but not noise
		r.deficit = max(r.deficit, part.BandMM-s.value()-runawayMargin)
	}
	r.on = on
}

// when is a sensor's value at a time, as the median of three readings; false where it
// is not known now.
func (s *series) when(t, now aquarium.Instant) (float64, bool) {
	if !s.current(now) {
		return 0, false
	}
	if ps := s.upTo(t); len(ps) >= 3 {
		return middle(ps[len(ps)-3:]), true
	}
	return s.value(), true
}

// need is how long the run should take at most, with what is known.
func (r *pumpRun) need(t *tank) time.Duration {
	part := t.config.Equipment.TopOff
	perMM := t.config.Size.LitresPerMM()
	if part.RateLH <= 0 || perMM <= 0 {
		return mostRun
	}
	mm := 2 * part.BandMM
	if r.known {
		mm = r.deficit
	}
	return max(leastRun, time.Duration(mm*perMM/part.RateLH*float64(time.Hour)))
}

// most is how long the run may take: twice what it needs, less what the reading of
// its beginning may be wrong by.
func (r *pumpRun) most(t *tank) time.Duration {
	need := r.need(t)
	part, perMM := t.topOff(), t.config.Size.LitresPerMM()
	if r.known && part.RateLH > 0 && perMM > 0 && need > leastRun {
		return 2 * (need - time.Duration(runReads*perMM/part.RateLH*float64(time.Hour)))
	}
	return 2 * need
}

// twice is how long the run may take before water must be feared to run over: twice
// what the deficit needs, as read.
func (r *pumpRun) twice(t *tank) time.Duration {
	part, perMM := t.topOff(), t.config.Size.LitresPerMM()
	if !r.known || part.RateLH <= 0 || perMM <= 0 {
		return r.most(t)
	}
	mm := max(leastDeficit, deficitReads*t.level.wave.noise(), r.deficit-runReads)
	return max(briefRun, time.Duration(2*mm*perMM/part.RateLH*float64(time.Hour)))
}

// takes is how long the run should take, as people are told: by the deficit where that
// is known, however little it is.
func (r *pumpRun) takes(t *tank) time.Duration {
	part, perMM := t.topOff(), t.config.Size.LitresPerMM()
	if !r.known || part.RateLH <= 0 || perMM <= 0 {
		return r.need(t)
	}
	return time.Duration(r.deficit * perMM / part.RateLH * float64(time.Hour))
}

// brings is how far the run should have raised the level by now, mm.
func (r *pumpRun) brings(t *tank, at aquarium.Instant) float64 {
	perMM, _ := t.perMM()
	if rate := t.topOff().RateLH; rate > 0 {
		return rate * at.Sub(r.since).Hours() / perMM
	}
	return r.deficit * at.Sub(r.since).Hours() / mostRun.Hours()
}
