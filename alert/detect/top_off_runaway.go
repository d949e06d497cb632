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
	// What was told within its band is over when it no longer climbs.
	climbWindow = 15 * time.Minute
	stillClimbs = 2.5 // mm per hour
	// dryShare of what the pump should have drawn is nothing.
	dryShare = 0.1
)

// topOffRunaway: the pump runs or the level climbs beyond what a top-off
// explains.
func topOffRunaway(v *view, t *tank) {
	if t.config.Equipment.TopOff == nil {
		return
	}
	f := finding{equipment: "top_off", on: runawayOn, off: runawayOff}
	f.prove = func() aquarium.Evidence { return t.topOffEvidence(v) }
	seen := t.overBand(v, &f)
	if t.overRun(v) {
		f.true, f.on, seen = true, longRunOn, true
	}
	if seen {
		v.find(aquarium.TopOffRunaway, t.config.ID, f)
	}
}

// overBand looks at the level, or at the high float where there is no level; it
// reports whether it could be seen that all is well. A pump with neither is off
// or it is not.
func (t *tank) overBand(v *view, f *finding) bool {
	part := t.config.Equipment.TopOff
	on, known := t.on(part.Pump, v.now)
	stood := v.stands(aquarium.TopOffRunaway, t.config.ID, f.equipment)
	s := t.sensor(part.Level)
	if !s.current(v.now) {
		high, seen := t.on(part.High, v.now)
		f.true = seen && high && (stood || on || !known)
		return seen || part.Level == "" && part.High == "" && known
	}
	f.worse, f.step = s.value(), runStep
	if stood { // the pump being pulled does not lower the water
		climb, ok := t.trend(s, v.now, climbWindow)
		f.true = s.value() > part.BandMM || ok && climb > stillClimbs
		return true
	}
	margin := runawayMargin
	if on {
		margin /= 2
	}
	if since, n := s.run(func(v float64) bool { return v > part.BandMM+margin }); n >= 2 {
		f.true, f.since = true, since
	} else {
		f.true, f.on = t.siphons(v, s), 0
	}
	return true
}

// overRun reports whether the pump is known to run for longer than it should.
func (t *tank) overRun(v *view) bool {
	on, known := t.on(t.config.Equipment.TopOff.Pump, v.now)
	ran := v.now.Sub(t.pump.since)
	return known && on && ran > 2*t.pump.need(t) && !t.dry(v, ran)
}

// topOffEvidence is the level and its trend, and what the pump has done; the
// high float or the pump itself where no level tells.
func (t *tank) topOffEvidence(v *view) aquarium.Evidence {
	part := t.config.Equipment.TopOff
	on, known := t.on(part.Pump, v.now)
	var e aquarium.Evidence
	if s := t.sensor(part.Level); s.current(v.now) {
		e = aquarium.Evidence{Sensor: part.Level, Value: s.value(), Unit: "mm", Limit: of(part.BandMM)}
		if climb, ok := t.trend(s, v.now, climbWindow); ok {
			e.PerHour = of(climb)
		}
	} else if e.Sensor = part.Pump; part.High != "" && !t.overRun(v) {
		e.Sensor = part.High
	}
	e.Facts = []aquarium.Fact{word(FactPump, stateWord(on, known, "on", "off"))}
	if known && on {
		ran := v.now.Sub(t.pump.since)
		e.Facts = append(e.Facts, lasting(FactRun, ran), lasting(FactNeed, t.pump.need(t)))
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
	s := t.sensor(part.From)
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
