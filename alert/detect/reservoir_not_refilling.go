package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// Refilling that takes twice its time has failed. What the unit makes is held
// against its own last fillings, of which the mains' warmth takes a few percent in
// a month; a rate is measured to some percent in ten minutes, so that a quarter less
// is six standard errors. Before any filling was seen the configured production is
// all there is, and cold mains take a third of that: then only less than six tenths
// is told.
const (
	slowShare   = 0.75
	slowUnknown = 0.6
	slowErrors  = 2.0
	slowKnown   = 2 // fillings
	leastFill   = 20 * time.Minute
	fullShare   = 0.98 // of the capacity: nearer than that the float closes slowly
	halfEmpty   = 0.5  // where a switch shows that it refills by itself and it never did
	belowStart  = 0.05 // of the capacity under where it has always begun
	notOff      = 10 * time.Minute
)

// reservoirNotRefilling: the stored water does not come back at the rate it should.
func reservoirNotRefilling(v *view, t *tank) {
	part := t.config.Equipment.Reservoir
	if part == nil || !t.sensor(part.Volume).current(v.now) || t.unpowered(v) || v.now < t.vessel.busy {
		return
	}
	s, r := t.sensor(part.Volume), &t.vessel.refill
	f := finding{equipment: "reservoir", off: notOff}
	switch {
	case r.on && part.CapacityL > 0 && s.value() >= fullShare*part.CapacityL:
	case r.on:
		f.true, f.since = r.slow(t, v) || r.late(t, v), r.since
	default:
		f.true = r.waits(t, v)
		if f.true {
			f.on = 2 * t.fillTime(part.CapacityL-s.value(), v.now)
		}
	}
	if v.stands(aquarium.ReservoirNotRefilling, t.config.ID, f.equipment) && !r.on && part.CapacityL > 0 {
		f.true = f.true || s.value() < r.lastStart(t)
	}
	f.prove = func() aquarium.Evidence { return r.evidence(t, v) }
	v.find(aquarium.ReservoirNotRefilling, t.config.ID, f)
}

// slow reports whether less comes in than usual, by a quarter.
func (r *refill) slow(t *tank, v *view) bool {
	rate, se, ok := r.rate(t)
	usual, known := t.usualRefill(v.now)
	share := slowShare
	switch {
	case t.config.Equipment.Reservoir.Refill == "" && (known < slowKnown || r.from > r.lastStart(t)+belowStart*t.config.Equipment.Reservoir.CapacityL):
		return false // it may be no filling: a valve that leaks, a bucket
	case known < slowKnown:
		share = slowUnknown
	}
	return ok && usual > 0 && rate+slowErrors*se < share*usual
}

// late reports whether the filling has taken twice its time.
func (r *refill) late(t *tank, v *view) bool {
	usual, _ := t.usualRefill(v.now)
	if usual <= 0 || r.need <= 0 {
		return false
	}
	return v.now.Sub(r.since) > 2*t.fillTime(r.need+r.drawn, v.now)
}

// fillTime is how long so many litres usually take to come in; never so short that
// a float which opens slowly is blamed.
func (t *tank) fillTime(litres float64, at aquarium.Instant) time.Duration {
	usual, _ := t.usualRefill(at)
	if usual <= 0 {
		return day
	}
	return max(leastFill, time.Duration(litres/usual*float64(time.Hour)))
}

// waits reports whether the reservoir stands below where its filling has always
// begun, and nothing comes.
func (r *refill) waits(t *tank, v *view) bool {
	part := t.config.Equipment.Reservoir
	s := t.sensor(part.Volume)
	start := r.lastStart(t)
	if start == 0 && part.Refill != "" {
		start = halfEmpty * part.CapacityL
	}
	return start > 0 && s.value() < start-belowStart*part.CapacityL
}

// lastStart is the lowest that a filling of the last ones began at, l; 0 before two
// are known.
func (r *refill) lastStart(t *tank) float64 {
	xs := last(t.learned.Vessel.Refills, refillsUsual)
	if len(xs) < slowKnown {
		return 0
	}
	low := xs[0].From
	for _, x := range xs {
		low = min(low, x.From)
	}
	return low
}

func (r *refill) evidence(t *tank, v *view) aquarium.Evidence {
	part := t.config.Equipment.Reservoir
	s := t.sensor(part.Volume)
	e := aquarium.Evidence{Sensor: part.Volume, Value: s.value(), Unit: "l"}
	if p, ok := t.trend(s, v.now, time.Hour); ok {
		e.PerHour = of(p)
	}
	on, known := t.on(part.Refill, v.now)
	e.Facts = append(e.Facts, word(FactRefill, stateWord(on, known, "on", "off")))
	usual, n := t.usualRefill(v.now)
	if usual > 0 {
		e.Facts = append(e.Facts, num(FactNormal, usual, "l/h"))
	}
	if r.on {
		e.Facts = append(e.Facts, lasting(FactFor, v.now.Sub(r.since)), lasting(FactNeed, t.fillTime(r.need, v.now)))
		if rate, _, ok := r.rate(t); ok {
			e.Facts = append(e.Facts, num(FactMade, max(0, rate), "l/h"))
		}
		if usual > 0 {
			e.Expected = of(min(max(part.CapacityL, r.from), r.from+usual*v.now.Sub(r.since).Hours()))
		}
		if n >= slowKnown {
			e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookCold, Because: num(FactFillings, float64(n), "")})
		}
	}
	if use, learned := t.evaporation(v); learned && use > 0 {
		e.HarmIn = of(s.value() / use * 60)
	}
	return e
}

func blindRefilling(t *aquarium.Tank) string {
	if why := blindReservoir(t); why != "" {
		return why
	}
	if r := t.Equipment.Reservoir; t.Sensor(r.Refill) == nil && r.ProductionLH <= 0 {
		return "neither a refill switch nor production_l_h under reservoir"
	}
	return ""
}
