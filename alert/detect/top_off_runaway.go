package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// A level that passes its band must be told within three minutes, or nobody
// knows that the pump does not stop. Two readings must say so and a minute pass
// from the first: a splash is over by then. ISA-18.2 gives 60 s for levels (from
// memory). A level at the very top of its band reads up to a millimetre over it
// by noise and resolution; a pump that is known to run makes sure of less.
// Common practice, no source.
const (
	runawayOn     = time.Minute
	runawayMargin = 1.0 // mm over the band; half of it while the pump is known to run
	runawayOff    = 2 * time.Minute
	longRunOn     = 0
	runStep       = 10.0 // mm further up is worth telling again
	// The least a run is allowed, so that a pump that only tops the last
	// millimetre is not blamed for the sensor's resolution.
	leastRun = 3 * time.Minute
	// dryShare of what the pump should have drawn is nothing.
	dryShare = 0.1
	// The most a run may take where neither volume nor rate is known.
	mostRun = 30 * time.Minute
)

// run follows the top-off pump's present run.
type run struct {
	on      bool
	since   aquarium.Instant
	deficit float64 // mm to the top of the band when it began
	known   bool
}

func (r *run) follow(t *tank, at aquarium.Instant) {
	part := t.config.Equipment.TopOff
	if part == nil {
		return
	}
	on, known := t.on(part.Pump, at)
	if !known {
		return
	}
	if on && (!r.on || r.since != t.sensors[part.Pump].since) {
		r.since = t.sensors[part.Pump].since
		if s := t.sensors[part.Level]; part.Level != "" && s.current(at) {
			level, ok := s.at(r.since)
			if !ok {
				level = s.value()
			}
			r.deficit, r.known = max(0, part.BandMM-level), true
		} else {
			r.known = false
		}
	}
	r.on = on
}

// need is how long the run should take at most, with what is known.
func (r *run) need(t *tank) time.Duration {
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

// topOffRunaway: the pump runs or the level climbs beyond what a top-off
// explains.
func topOffRunaway(v *view, t *tank) {
	if t.config.Equipment.TopOff == nil {
		return
	}
	f := finding{equipment: "top_off", on: runawayOn, off: runawayOff}
	f.prove = func() aquarium.Evidence { return t.topOffEvidence(v) }
	level := t.overBand(v, &f)
	if run := t.overRun(v, &f); level || run {
		v.find(aquarium.TopOffRunaway, t.config.ID, f)
	}
}

// overBand looks at the level, or at the high float where there is no level; it
// reports whether either could be seen.
func (t *tank) overBand(v *view, f *finding) bool {
	part := t.config.Equipment.TopOff
	on, known := t.on(part.Pump, v.now)
	stood := v.stands(aquarium.TopOffRunaway, t.config.ID, f.equipment)
	s := t.sensors[part.Level]
	if part.Level == "" || !s.current(v.now) {
		high, seen := t.on(part.High, v.now)
		f.true = seen && high && (stood || on || !known)
		return seen
	}
	f.worse, f.step = s.value(), runStep
	if stood { // the pump being pulled does not lower the water
		climb, ok := t.trend(s, v.now, siphonWindow)
		f.true = s.value() > part.BandMM || ok && climb > siphonClimb/3
		return true
	}
	margin := runawayMargin
	if on {
		margin /= 2
	}
	if since, n := s.run(func(v float64) bool { return v > part.BandMM+margin }); n >= 2 {
		f.true, f.since = true, since
	} else {
		f.true, f.on = t.siphons(v, s), siphonOn
	}
	return true
}

// overRun looks at how long the pump has run; it reports whether that is known.
func (t *tank) overRun(v *view, f *finding) bool {
	on, known := t.on(t.config.Equipment.TopOff.Pump, v.now)
	if !known || !on {
		return false
	}
	ran := v.now.Sub(t.pump.since)
	if ran > 2*t.pump.need(t) && !t.dry(v, ran) {
		f.true, f.on = true, longRunOn
	}
	return true
}

// topOffEvidence is the level and its trend, and what the pump has done.
func (t *tank) topOffEvidence(v *view) aquarium.Evidence {
	part := t.config.Equipment.TopOff
	e := aquarium.Evidence{Sensor: part.Level}
	if s := t.sensors[part.Level]; part.Level != "" && s.current(v.now) {
		e.Value, e.Unit, e.Limit = s.value(), "mm", of(part.BandMM)
		if climb, ok := t.trend(s, v.now, siphonWindow); ok {
			e.PerHour = of(climb)
		}
	} else if part.Level == "" {
		e.Sensor = part.Pump
		if part.High != "" {
			e.Sensor = part.High
		}
	}
	on, known := t.on(part.Pump, v.now)
	e.Facts = []aquarium.Fact{word(FactPump, pumpWord(on, known))}
	if known && on {
		ran := v.now.Sub(t.pump.since)
		e.Facts = append(e.Facts, num(FactRun, minutes(ran), "min"), num(FactNeed, minutes(t.pump.need(t)), "min"))
		if part.RateLH > 0 {
			e.Facts = append(e.Facts, num(FactAdded, part.RateLH*ran.Hours(), "l"))
		}
	}
	return e
}

// dry reports whether the pump is known to bring no water at all: what it draws
// on does not fall though nothing refills it. That is a top-off that fails and
// floods nothing; where the stored water is not measured, or goes somewhere, a
// pump that runs for too long is a runaway.
func (t *tank) dry(v *view, ran time.Duration) bool {
	part := t.config.Equipment.TopOff
	s := t.sensors[part.From]
	if part.From == "" || part.RateLH <= 0 || !s.current(v.now) {
		return false
	}
	if r := t.config.Equipment.Reservoir; r != nil {
		if on, known := t.on(r.Refill, v.now); known && on {
			return false
		}
	}
	before, ok := s.at(t.pump.since)
	return ok && before-s.value() < dryShare*part.RateLH*ran.Hours()
}

func pumpWord(on, known bool) string {
	switch {
	case !known:
		return "unknown"
	case on:
		return "on"
	}
	return "off"
}

func blindTopOff(t *aquarium.Tank) string {
	p := t.Equipment.TopOff
	switch {
	case p == nil:
		return "no top_off under equipment"
	case p.Level == "" && p.High == "" && p.Pump == "":
		return "neither a level, a high float nor a pump switch under top_off"
	}
	return ""
}
