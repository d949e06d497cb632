package detect

import (
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// Refilling that takes twice its time has failed. What the unit makes is held
// against its own last fillings, for nobody measures how warm the mains are: three
// degrees from one filling to the next are a tenth (12 to 15 Cel, by the membrane
// makers' tables), and hide half of a quarter less, or look like it. So a fifth less
// than is usual is told, if the filling as a whole is that slow, which may begin
// while the pressure is low. A rate is measured to some percent in ten minutes.
// Before any filling was seen the configured production is all there is, and cold
// mains take a third of that: then only less than six tenths is told.
const (
	slowShare   = 0.8
	slowUnknown = 0.6
	slowErrors  = 2.0
	slowFor     = 30 * time.Minute
	slowParts   = 5
	slowAfter   = 1.1 // of the time it should take, so that it should be full
	slowFalls   = 1.0 // l from one part to the next
	// A store that falls by all of what the unit makes, though it
	// fills, is being used.
	usedShare = 0.5
	// One filling is a rate that was measured; of two that differ from the next
	// one none is learned any more while that is told.
	slowKnown   = 1
	slowLearned = 2
	leastFill   = 20 * time.Minute
	fullShare   = 0.98 // of the capacity: nearer than that the float closes slowly
	halfEmpty   = 0.5  // of the capacity: a first filling that begins further up may be a bucket
	// Of the capacity, under where it has always begun: by how much that
	// differs, and so much at the least and the most.
	belowStart      = 0.05
	belowStartLeast = 0.02
	waitsFor        = 40 * time.Minute // twice the least that a filling is given
	// A store that falls from each tenth of an hour to the next by that, for half
	// an hour, is emptied by more than the air takes and no bucket.
	fallsSteadily = 0.4 // l
	notOff        = 10 * time.Minute
)

// reservoirNotRefilling: the stored water does not come back at the rate it should.
func reservoirNotRefilling(v *view, t *tank) {
	part := t.config.Equipment.Reservoir
	if part == nil || !t.parts.stored.current(v.now) || t.unpowered(v) || v.now < t.vessel.busy {
		return
	}
	s, r := t.parts.stored, &t.vessel.refill
	f := finding{equipment: "reservoir", off: notOff}
	switch {
	case r.on && part.CapacityL > 0 && s.value() >= fullShare*part.CapacityL:
	case r.on && (r.slow(t, v) || r.late(t, v)):
		f.true, f.since = true, r.since
	case t.vessel.call.inVain(t, v):
		f.true, f.since = true, t.vessel.call.since
	case !r.on:
		f.true, f.on = r.waits(t, v)
	case v.now.Sub(r.since) >= waitsFor: // whatever comes, more goes
		f.true, f.since = t.storeFalls(v), r.since
	}
	if !f.true && v.stands(aquarium.ReservoirNotRefilling, t.config.ID, f.equipment) {
		f.true = r.remains(t, v)
	}
	f.prove = func() aquarium.Evidence { return r.evidence(t, v) }
	v.find(aquarium.ReservoirNotRefilling, t.config.ID, f)
}

// remains reports whether what was told of goes on: a unit that is called for again, as
// each night, has yet to bring something, and so has one that is not.
func (r *refill) remains(t *tank, v *view) bool {
	stored, capacity := t.parts.stored.value(), t.config.Equipment.Reservoir.CapacityL
	switch {
	case stored >= fullShare*capacity:
		return false
	case r.on:
		return r.weak(t, v)
	}
	return stored < r.lastStart(t)+belowStart*capacity
}

// slow reports whether less comes in than usual, by a fifth: as long as a rate can
// be told from what somebody draws meanwhile, so for most of an hour in which the
// store never fell.
func (r *refill) slow(t *tank, v *view) bool {
	part := t.config.Equipment.Reservoir
	usual, share := t.slowRate(v)
	if usual <= 0 || v.now.Sub(r.since) < max(r.lookFor(usual), time.Duration(slowAfter*r.need/usual*float64(time.Hour))) || !r.fillsUp(t) {
		return false
	}
	rate, se, ok := t.comesIn(v, r.lookFor(usual))
	s := t.sensor(part.Volume)
	if !ok || s.value()-r.from+r.drawn >= slowShare*usual*v.now.Sub(r.since).Hours() {
		return false // on the whole it is not
	}
	before, ok := s.when(v.now.Add(-refillSeen), v.now) // whoever used it may have stopped
	return ok && rate+slowErrors*se < share*usual && s.value()-before < share*usual*refillSeen.Hours()
}

// lookFor is how long the store is looked at to tell how fast it fills: where that takes
// less than slowFor, for as long.
func (r *refill) lookFor(usual float64) time.Duration {
	return min(slowFor, max(refillSeen, time.Duration(r.need/usual*float64(time.Hour))))
}

// slowRate is what the reservoir usually takes in, l/h, and the share of it that is too
// little.
func (t *tank) slowRate(v *view) (usual, share float64) {
	usual, known := t.usualRefill(v.now)
	if known < slowKnown {
		return usual, slowUnknown
	}
	return usual, slowShare
}

// fillsUp reports whether what comes in is a filling: as commanded, or where no switch
// tells, as called for, or one that began where they do. What begins further up may be a valve that leaks,
// or a bucket. As long as none is known it is one from under a half.
func (r *refill) fillsUp(t *tank) bool {
	part := t.config.Equipment.Reservoir
	if part.Refill != "" || t.vessel.call.since != 0 {
		return true
	}
	xs := t.learned.Vessel.starts()
	if len(xs) == 0 {
		return r.from < halfEmpty*part.CapacityL
	}
	return r.from <= slices.Max(xs)+belowStartLeast*part.CapacityL
}

// undrawn is what the store read over that time, in slowParts of so many readings each;
// false where people or the top-off, as far as is known, drew on it.
func (t *tank) undrawn(v *view, lasted time.Duration) (ps []point, n int, ok bool) {
	ps = t.sensor(t.config.Equipment.Reservoir.Volume).filled(v.now, lasted)
	n = len(ps) / slowParts
	return ps, n, n > 0 && v.now >= t.vessel.busy.Add(lasted) && (t.vessel.pumped == 0 || v.now >= t.vessel.pumped.Add(lasted))
}

// storeFalls reports whether the store falls steadily, though the top-off is not
// known to draw on it.
func (t *tank) storeFalls(v *view) bool {
	if before, ok := t.parts.stored.at(v.now.Add(-slowFor)); !ok || before-t.parts.stored.value() < (slowParts-1)*fallsSteadily/2 {
		return false // as nearly always
	}
	ps, n, ok := t.undrawn(v, slowFor)
	if !ok || ps[len(ps)-1].at.Sub(ps[0].at) < slowFor-slowFor/slowParts {
		return false
	}
	for i := 1; i < slowParts; i++ {
		if mean(ps[i*n:(i+1)*n])-mean(ps[(i-1)*n:i*n]) > -fallsSteadily {
			return false
		}
	}
	return true
}

// fallsOn reports whether a store of which nobody knows where it calls for water falls on
// by more than the top-off takes at once, and not into a tank that leaks: what takes that is
// no unit that has yet to be called.
func (t *tank) fallsOn(v *view) bool {
	s := t.parts.stored
	if t.config.Equipment.Reservoir.Refill != "" || !t.storeFalls(v) || v.stands(aquarium.WaterLoss, t.config.ID, "") {
		return false
	}
	perMM, _ := t.perMM()
	before, ok := s.at(v.now.Add(-slowFor - waitsFor/2))
	return ok && before-s.value() > 2*t.topOff().BandMM*perMM
}

// comesIn is the store's rise over that time, l/h, without what the top-off
// draws, and its standard error; false where it fell meanwhile.
func (t *tank) comesIn(v *view, lasted time.Duration) (litresH, se float64, ok bool) {
	ps, n, ok := t.undrawn(v, lasted)
	if !ok {
		return 0, 0, false
	}
	for i := 1; i < slowParts; i++ {
		if mean(ps[i*n:(i+1)*n])-mean(ps[(i-1)*n:i*n]) < -slowFalls {
			return 0, 0, false
		}
	}
	return paceOf(ps)
}

// late reports whether the filling has taken twice its time, and goes on no better:
// the store still falls, or hardly rises, and not because the top-off draws on it.
func (r *refill) late(t *tank, v *view) bool {
	if usual, _ := t.usualRefill(v.now); usual <= 0 || r.need <= 0 || v.now.Sub(r.since) <= 2*t.fillTime(r.need+r.drawn, v.now) || !r.fillsUp(t) {
		return false
	}
	if at := t.vessel.pumped; at != 0 && v.now < at.Add(refillSeen) && v.now.Sub(t.pump.since) < refillSeen {
		return false // a run of it that is short
	}
	return r.weak(t, v)
}

// weak reports whether too little has come in of late.
func (r *refill) weak(t *tank, v *view) bool {
	usual, share := t.slowRate(v)
	rate, se, ok := paceOf(t.parts.stored.filled(v.now, refillSeen))
	return ok && rate+slowErrors*se < share*usual && rate > -usedShare*usual
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
// begun, and nothing comes; and for how long it must. One that is called for by a
// controller may be so at certain hours only, and come down further till then: it is
// given a day.
func (r *refill) waits(t *tank, v *view) (bool, time.Duration) {
	part := t.config.Equipment.Reservoir
	s := t.sensor(part.Volume)
	start := r.lastStart(t)
	learned := start > 0
	if !learned && (part.Refill != "" || part.ProductionLH > 0) {
		if t.fallsOn(v) {
			return true, waitsFor / 2
		}
		start = lowShare * part.CapacityL // nobody knows where its float is
	}
	below := start - s.value()
	if start == 0 || below < slowFalls {
		return false, 0 // as nearly always
	}
	if learned && t.storeFalls(v) {
		return true, waitsFor
	}
	if learned && below <= r.startVaries(t) {
		return false, 0
	}
	on := waitsFor
	if learned && part.Refill != "" {
		on = day
	}
	perHour, se, ok := paceOf(s.filled(v.now, refillSeen)) // while somebody draws, it is not looked at
	return ok && perHour+slowErrors*se > -slowFalls/refillSeen.Hours(), on
}

// startVaries is how far under the lowest start of its last fillings the next may
// begin, l.
func (r *refill) startVaries(t *tank) float64 {
	xs, capacity := t.learned.Vessel.starts(), t.config.Equipment.Reservoir.CapacityL
	if len(xs) < slowLearned {
		return belowStart * capacity
	}
	return min(max(belowStartLeast*capacity, slices.Max(xs)-slices.Min(xs)), belowStart*capacity)
}

// lastStart is the lowest that a filling of the last ones began at, l; 0 before any
// is known.
func (r *refill) lastStart(t *tank) float64 {
	xs := t.learned.Vessel.starts()
	if len(xs) == 0 {
		return 0
	}
	return slices.Min(xs)
}

// began is when those were.
func (x *Vessel) began() []aquarium.Instant {
	if len(x.Starts) > 0 {
		return last(x.Started, refillsUsual)
	}
	var at []aquarium.Instant
	for _, f := range last(x.Refills, refillsUsual) {
		at = append(at, f.At)
	}
	return at
}

// starts are where the last fillings began, l: as far as is known, those that nobody had
// drawn for.
func (x *Vessel) starts() []float64 {
	if len(x.Starts) > 0 {
		return last(x.Starts, refillsUsual)
	}
	var froms []float64
	for _, f := range last(x.Refills, refillsUsual) {
		froms = append(froms, f.From)
	}
	return froms
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
		if rate, _, ok := t.comesIn(v, slowFor); ok {
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
