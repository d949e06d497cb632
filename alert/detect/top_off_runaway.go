package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// A level that passes its band must be told within three minutes, or nobody
// knows that the pump does not stop. Two readings must say so and a minute pass
// from the first: a splash is over by then. ISA-18.2 gives 60 s for levels (from
// memory). A level at the very top of its band reads up to a millimetre over it
// by noise and resolution; a pump that runs for half as long again as it
// needs makes sure of less. Common practice, no source.
const (
	runawayOn     = time.Minute
	runawayTold   = 3 * time.Minute // by then
	runawayMargin = 1.0             // mm over the band; half of it while the pump runs on
	runawayOff    = 2 * time.Minute
	longRunOn     = 0
	// With the pump told to be off what comes in is mostly a siphon, for which there are
	// ten minutes.
	runawayStill = 4 * time.Minute
	// A controller that looks once a minute lets its pump run on for that long,
	// and hoses drain: what a tank shows by itself each day is no runaway, up to
	// that much.
	runsOn = 3.0 // mm over the band
	// Once days have shown how far it comes, the mean of two minutes tells sooner:
	// by four and a half of its standard errors, 3e-6 by chance. A level spends a
	// dozen of its looks a day near the top of its band: less than once in fifty
	// years. Rounding shifts the mean of what flickers by a quarter of a step or
	// more by a tenth of one at the most (the first harmonic of the rounding's
	// error, exp(-2 pi^2 s^2)/pi); readings that do not flicker may be a whole one
	// too high for a hair.
	overFor    = 2 * time.Minute
	overLong   = 15 * time.Minute
	overErrors = 4.5
	overDays   = 7 // fewer know little of how far it may wander
	overBias   = 0.1
	overSteps  = 1.1
	// While the pump is known to run, which it does for some minutes in a day, there are
	// few looks at the top: three and a half are 2e-4, of some hundred of them in a year.
	pouringErrors = 3.5
	// While readings scatter around their own line as no level does, somebody's
	// hands are in the water, for a minute or so: what lies over the band for
	// longer is believed.
	wavesScatter = 1.0 // mm, standard deviation: twice what the usual sensor has by itself
	wavesTimes   = 2   // ... or that many times what a coarse or a noisy one has
	wavesFor     = 3 * time.Minute
	wavesOn      = 150 * time.Second
	wavesReads   = 4
	leapTimes    = 1.5  // what the pump should bring
	leapNoise    = 2.0  // mm besides
	runStep      = 10.0 // mm further up is worth telling again
	// What was told within its band is over when it no longer climbs.
	climbWindow = 15 * time.Minute
	stillClimbs = 2.5 // mm per hour
	// dryShare of what the pump should have moved is nothing, and so is a
	// rise that noise makes.
	dryShare = 0.1
	dryLeast = 1.0 // mm
	// What a leak of half the pump's rate leaves of it. A pump that brings less than
	// that by itself cannot be told from a larger leak, and is feared to run on.
	catchesUpShare = 0.5
	dryOver        = 5 * time.Minute // the mean of which is what it has come to, or of a quarter of the run
	// At its mark a float wavers with the waves.
	floatChatters = 5 * time.Minute
	// Half-way to the rim and still climbing is more than anybody pours in by a
	// bucket or leaves standing.
	pouredMost   = assumedRim / 2
	beyondErrors = 3.0
	// assumedRim is how far the rim is taken to be above the working mark:
	// that is not configured. Common practice, no source.
	assumedRim = 40.0 // mm
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

// overRun reports whether the pump is known to run for longer than it should.
func (t *tank) overRun(v *view) bool {
	on, known := t.parts.pump.isOn(v.now)
	ran := v.now.Sub(t.pump.since)
	if !known || !on || ran <= t.pump.twice(t) {
		return false // as nearly always
	}
	ran = t.listened(v).Sub(t.pump.since) // it may have stopped in a gap
	return ran > t.pump.twice(t) && !t.bringsNothing(v, ran) && !t.feedsLeak(v) && !t.catchesUp(v, ran)
}

// listened is until when the tank is known to have been heard: a switch that tells its
// changes only says nothing in a gap of all readings, nor for long after.
func (t *tank) listened(v *view) aquarium.Instant {
	until := aquarium.Instant(0)
	for _, s := range t.order {
		if !s.config.OnChange && s.heard != 0 {
			until = max(until, s.heard.Add(s.interval()))
		}
	}
	if until == 0 { // all tell their changes only
		return v.now
	}
	return min(v.now, until)
}

// feedsLeak reports whether the pump runs for long because water leaves the tank: then
// that is told, and the level is where it was, or its high float dry.
func (t *tank) feedsLeak(v *view) bool {
	part, s := t.topOff(), t.level
	if !v.stands(aquarium.WaterLoss, t.config.ID, "") {
		return false
	}
	if part.Level == "" && part.High != "" {
		high, known := t.on(part.High, v.now)
		return known && !high
	}
	return s.current(v.now) && s.value() <= part.BandMM
}

// catchesUp reports whether the pump runs for long because some of what it brings leaves
// again: most of that raises the level, which after so long would be over its band if
// the pump were at its work alone. It is given twice as long, for then the water goes
// elsewhere.
func (t *tank) catchesUp(v *view, ran time.Duration) bool {
	s, r := t.level, &t.pump
	if s == nil || !r.known || !s.current(v.now) || ran > 2*r.twice(t) {
		return false
	}
	newest := s.points[len(s.points)-1]
	return newest.v <= t.topOff().BandMM-runawayMargin && newest.v-r.began >= max(dryLeast, catchesUpShare*r.brings(t, newest.at))
}

// topOffEvidence is the level and its trend, and what the pump has done; the
// high float or the pump itself where no level tells.
func (t *tank) topOffEvidence(v *view) aquarium.Evidence {
	part := t.config.Equipment.TopOff
	on, known := t.on(part.Pump, v.now)
	var e aquarium.Evidence
	var assumed []aquarium.Fact
	if s := t.sensor(part.Level); s.current(v.now) {
		e = aquarium.Evidence{Sensor: part.Level, Value: s.value(), Unit: "mm", Limit: of(part.BandMM)}
		if climb, ok := t.trend(s, v.now, climbWindow); ok {
			e.PerHour = of(climb)
		}
		if e.HarmIn = t.toRim(v, s.value(), e.PerHour); e.HarmIn != nil {
			assumed = append(assumed, word(FactAssumed, "rim 40 mm above the mark"))
		}
		if t.pump.known && known && on {
			e.Expected = of(min(part.BandMM, t.pump.began+t.pump.brings(t, v.now)))
			e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookTopOff, Because: lasting(FactNeed, t.pump.takes(t))})
		} else if known {
			e.Expected = of(part.BandMM)
			off := v.now.Sub(t.sensor(part.Pump).since)
			if before := s.window(v.now, min(climbWindow, off)); s.value() <= part.BandMM && len(before) > 2 { // what it should not have left
				e.Expected = of(min(part.BandMM, middle(before[:3])))
			}
			e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookTopOff, Because: lasting(FactOff, off)})
		}
		if since, n := s.run(func(mm float64) bool { return mm > part.BandMM }); n > 1 {
			e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookSplash, Because: lasting(FactFor, v.now.Sub(since))})
		}
	} else if e.Sensor = part.Pump; !t.overRun(v) {
		s := t.level
		switch high, _ := t.on(part.High, v.now); {
		case part.Level == "" && !high && s.current(v.now):
			e = aquarium.Evidence{Sensor: s.config.ID, Value: s.value(), Unit: "mm"}
			if climb, ok := t.trend(s, v.now, climbWindow); ok {
				e.PerHour = of(climb)
			}
		case part.High != "":
			e.Sensor = part.High
			if high {
				e.Facts = append(e.Facts, word(FactFloat, "wet"))
			}
		}
	}
	e.Facts = append(e.Facts, word(FactPump, stateWord(on, known, "on", "off")))
	if known && on {
		ran, takes := v.now.Sub(t.pump.since), t.pump.takes(t)
		e.Facts = append(e.Facts, lasting(FactRun, ran))
		if ran > takes {
			e.Facts = append(e.Facts, lasting(FactNeed, takes))
		}
		if part.RateLH > 0 {
			e.Facts = append(e.Facts, num(FactAdded, part.RateLH*ran.Hours(), "l"))
		}
	}
	e.Facts = append(e.Facts, assumed...)
	return e
}

// bringsNothing reports whether the pump is known to bring no water to the tank
// and none elsewhere: that is a top-off that fails. A level that rises says that it does;
// of one that stays where it was, what the pump draws on tells, as long as nothing
// refills that; where that is not measured, the level alone, or a low float that stays
// dry. Stored water that falls goes somewhere, and then the pump must be stopped.
func (t *tank) bringsNothing(v *view, ran time.Duration) bool {
	part := t.topOff()
	s := t.sensor(part.Level)
	// What has been seen to bring nothing does not bring more while the level's readings have a gap.
	gap := s != nil && v.stands(aquarium.TopOffFailed, t.config.ID, "top_off") && v.now.Sub(s.heard) < s.patience()
	levelled := part.Level != "" && t.pump.known && (s.current(v.now) || gap)
	if levelled {
		now := s.value()
		if ps := s.window(v.now, min(dryOver, ran/4)); len(ps) > 1 {
			now = mean(ps)
		}
		if now-t.pump.began >= max(dryLeast, dryShare*t.pump.brings(t, v.now)) {
			return false
		}
	}
	if store := t.sensor(part.From); part.RateLH > 0 && t.pump.stored && store.current(v.now) {
		if t.pump.store-store.value() >= dryShare*part.RateLH*ran.Hours() {
			return false
		} else if !t.refilledSince(v, t.pump.since) {
			return true
		}
	}
	if levelled {
		return true
	}
	low, known := t.on(part.Low, v.now)
	return known && (!low || v.now.Sub(t.sensor(part.Low).since) < floatChatters)
}

// refilledSince reports whether what the top-off draws on is known to have been refilled
// since then.
func (t *tank) refilledSince(v *view, since aquarium.Instant) bool {
	r := t.config.Equipment.Reservoir
	if r == nil {
		return false
	}
	on, known := t.on(r.Refill, v.now)
	return known && (on || t.sensor(r.Refill).wasOn >= since)
}

// toRim is how many minutes there are until the water reaches the rim, nil where
// that cannot be told: at the rate the level climbs, or the pump brings.
func (t *tank) toRim(v *view, level float64, climb *float64) *float64 {
	perMM := t.config.Size.LitresPerMM()
	if perMM <= 0 {
		return nil
	}
	rate := 0.0
	if climb != nil {
		rate = *climb
	}
	if on, known := t.on(t.topOff().Pump, v.now); known && on {
		rate = max(rate, t.topOff().RateLH/perMM)
	}
	return timeLeft(assumedRim-level, rate)
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
