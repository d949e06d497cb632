package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// Three looks, each for its own kind of loss: at the readings for what is over in
// minutes (fall.go), at the hours for what takes half a day (ebb.go), and at the
// top-off where the level is held or not measured (runs.go).
const (
	lossOff  = 20 * time.Minute
	lossStep = 50.0 // mm further down is worth telling again
	// What fell fast is over when the level is back, and not when the tank is
	// as empty as it gets; or when somebody has been there.
	lossBack = 10.0 // mm
	// A level that no longer falls by that, l/h beyond what the air takes, has
	// stopped falling fast.
	lossOver = 1.0
	// ... give or take so many standard errors of the slope that it has by its noise.
	lossErrors = 2.0
	// While hours of the level can be measured the top-off is not asked.
	hoursFresh = 3 * time.Hour
	// Filters' intakes and heaters lie above two thirds of the water's depth:
	// common practice, no source.
	intakeDepth = 1.0 / 3
)

// loss is what is known of water that leaves.
type loss struct {
	at, since    aquarium.Instant // when it was looked for, and when it began
	is           bool
	litresH, may float64 // in all, and the most it would be when all is well
	byPump       bool    // told by the top-off's runs
}

// waterLoss: water leaves faster than evaporation or a known change explains. It is
// looked for once a minute.
func waterLoss(v *view, t *tank) {
	s, x := t.level, &t.vessel
	stood := v.stands(aquarium.WaterLoss, t.config.ID, "")
	seen := s.current(v.now)
	byPump := t.topOff().RateLH > 0 && t.parts.pump.current(v.now)
	if !seen && !byPump || v.now < x.busy && !stood {
		x.loss = loss{}
		return
	}
	if v.now.Floor(time.Minute) == v.now || x.loss.at == 0 {
		x.loss = t.losing(v, seen, byPump, stood)
	}
	f := finding{true: x.loss.is, since: x.loss.since, off: lossOff, beyond: t.handsIdle(v)}
	if seen {
		f.worse, f.step = -s.value(), lossStep
	}
	f.prove = func() aquarium.Evidence { return t.lossEvidence(v, x.loss, seen) }
	v.find(aquarium.WaterLoss, t.config.ID, f)
}

// losing is the first of the three that finds a loss.
func (t *tank) losing(v *view, seen, byPump, stood bool) loss {
	x := &t.vessel
	perMM, _ := t.perMM()
	l := loss{at: v.now, may: t.allowance(v) + ebbSlack}
	is := func(litresH float64, since aquarium.Instant) loss {
		l.is, l.litresH, l.since = true, litresH, since
		return l
	}
	if seen && !stood && t.level.wave.churned(v.now) && !t.plunges(v) {
		return l // what is left of waves once the widest are held back takes any course
	}
	if seen {
		if f, ok := t.falls(v); ok {
			if !stood || !x.before.known {
				x.before = mark{t.level.value() + f.by, true}
			}
			return is(f.perHour*perMM, f.since)
		}
		if stood && v.now >= x.busy {
			p, ok := t.moves(v, t.level)
			if ok && -p*perMM > l.may+lossOver+lossErrors*t.slopeError()*perMM || x.before.known && t.level.value() < x.before.mm-lossBack {
				return is(max(0, -p*perMM), 0)
			}
		}
		if litresH, ok := t.lostFromRun(v); ok && litresH > l.may+fallMore {
			return is(litresH, t.pump.since)
		}
		if litresH, ok := t.lostInRounds(v); ok && litresH > l.may+fallMore {
			return is(litresH, v.now.Add(-roundsFor))
		}
		if litresH, since, ok := t.lostFromLaps(v, l.may+fallMore); ok {
			return is(litresH, since)
		}
		if litresH, ok := t.lostFromStore(v); ok && litresH > l.may+fallMore {
			return is(litresH, v.now.Add(-storeFor))
		}
		if litresH, ok := t.lostAgainst(v); ok && litresH > l.may+fallMore {
			return is(litresH, v.now.Add(-steadyFor))
		}
		if litresH, since, ok := x.swings.lost(t, v.now, l.may+fallMore); ok {
			return is(litresH, since)
		}
		if x.ebb.loses(stood) {
			return is(x.ebb.lost, x.ebb.since)
		}
	}
	if byPump && (!seen || x.ebb.judged == 0 || v.now.Sub(x.ebb.judged) > hoursFresh) {
		if rate, since := x.runs.rate(l.may); rate > 0 && x.runs.lately(v.now, rate) {
			l.byPump = true
			return is(rate, since)
		}
	}
	return l
}

// slopeError is the standard error of the level's slope over climbWindow, mm/h: that of
// a line through so many readings, any textbook's, by the noise they have and waver by.
func (t *tank) slopeError() float64 {
	s := t.level
	n := float64(slopePoints)
	if i := s.interval(); i > 0 {
		n = min(n, float64(climbWindow)/float64(i))
	}
	return math.Sqrt(12/n) * t.errs(climbWindow) / climbWindow.Hours()
}

// A top-off pump that hides a leak brings more from what it draws on than the tank
// keeps: three litres are six standard errors of two readings of either, and a third
// is more than a tank's inside measures and a rate are wrong by.
const (
	runLeast = 3.0 // l
	runShare = 1.0 / 3
	runFor   = 4 * time.Minute
	runMost  = 1.3 // of the pump's rate
	// A unit is rated for water of 25 C, and makes 3 % less for each degree below; mains
	// water in winter has 12 to 15. Before a filling has shown what it makes that counts.
	runRefills = 2.0 / 3
	// A level or a store with more noise than most hides more: five standard errors of the
	// difference of two medians of three, each 0.67 of a reading's.
	runErrors = 5 * 0.67 * math.Sqrt2
	// Where no switch tells of the pump, it is what raises the level while the store
	// falls at its rate, give or take, for so long; each third of that must show both.
	storeFor   = 8 * time.Minute
	storeRises = 2.0       // mm
	storeLeast = 1.0 / 2   // of the pump's rate
	storeMost  = 1.0 + 0.3 // ... more is somebody with a bucket
	storePart  = 0.2       // of the whole in a third, at the least
	// Each run of the pump is looked at some times: 3e-7 by chance.
	storeErrors = 5.0
)

// lostFromRun is what the tank has lost during the pump's present run, l/h; false
// where what came in and what stayed do not tell it.
func (t *tank) lostFromRun(v *view) (litresH float64, ok bool) {
	r, store := &t.pump, t.sensor(t.topOff().From)
	ran := v.now.Sub(r.since)
	if !r.on || !r.seen || !r.stored || ran < runFor || !store.current(v.now) || v.now < t.vessel.stirred.Add(ran) {
		return 0, false
	}
	if r.known && t.level.value() > t.topOff().BandMM { // what runs over the rim has a name
		return 0, false
	}
	perMM, assumed := t.perMM()
	brought := r.store - store.value() + t.refilledIn(v, r.since)
	if brought > runMost*t.topOff().RateLH*ran.Hours() { // the unit makes less than it used to, or somebody draws from the store
		return 0, false
	}
	lost := brought - (t.level.value()-r.began)*perMM
	if assumed || lost < max(runLeast, runShare*brought) || brought < t.topOff().RateLH*ran.Hours()/2 {
		return 0, false // as nearly always
	}
	noise := math.Hypot(t.level.wave.noise()*perMM, bending(store.window(v.now, recent)))
	return lost / ran.Hours(), lost >= runErrors*noise
}

// refilledIn is what the unit is known to have let into the store since then, and still does, l.
func (t *tank) refilledIn(v *view, since aquarium.Instant) float64 {
	on, known := t.parts.refill.isOn(v.now)
	if !known || !on {
		return 0
	}
	usual, n := t.usualRefill(v.now)
	if n == 0 {
		usual *= runRefills
	}
	return usual * v.now.Sub(max(since, t.parts.refill.since)).Hours()
}

// lostFromStore is the same where the pump's switch is not known.
func (t *tank) lostFromStore(v *view) (litresH float64, ok bool) {
	part, s := t.topOff(), t.level
	store := t.sensor(part.From)
	if part.RateLH <= 0 || !store.current(v.now) || v.now < t.vessel.stirred.Add(storeFor) || t.vessel.refill.on {
		return 0, false
	}
	perMM, assumed := t.perMM()
	if _, known := t.on(part.Pump, v.now); known || assumed || s.value() > part.BandMM {
		return 0, false
	}
	ps := s.window(v.now, storeFor)
	rise, rose := thirds(ps)
	if (!rose || rise < storeRises) && !t.raisesNothing(v, store, ps) {
		return 0, false // as nearly always
	}
	gone, fell := thirds(downward(store.window(v.now, storeFor)))
	most := part.RateLH * storeFor.Hours()
	lost := gone - rise*perMM
	if !fell || gone < storeLeast*most || gone > storeMost*most || lost < max(runLeast, runShare*gone) {
		return 0, false
	}
	errs := math.Hypot(t.errs(storeFor)*perMM, bending(store.window(v.now, recent)))
	if lost < storeErrors*errs*1.5*math.Sqrt(2/float64(len(ps)/3)) { // of two means' difference, and on to both ends
		return 0, false
	}
	return lost / storeFor.Hours(), true
}

// raisesNothing reports whether the level has stayed where the top-off comes while the store
// fell: the pump runs, and as much leaves as it brings, or more.
func (t *tank) raisesNothing(v *view, store *series, ps []point) bool {
	part := t.topOff()
	if t.level.value() > -part.BandMM/2 || len(ps) < 6 {
		return false // as nearly always
	}
	before, ok := store.at(v.now.Add(-storeFor))
	if !ok || before-store.value() < storeLeast*part.RateLH*storeFor.Hours() {
		return false
	}
	sure := max(seepBegins, 2*t.errs(storeFor))
	n := len(ps) / 3
	if low := t.usualLowest() + sure; max(mean(ps[:n]), mean(ps[n:2*n]), mean(ps[len(ps)-n:])) > low {
		return false
	}
	// Where it has lain for longer the pump has yet to come, and the store loses by itself.
	ahead := t.level.window(v.now.Add(-storeFor-storeFor), storeFor)
	return len(ahead) >= 3 && mean(ahead[:len(ahead)/3])-mean(ps) > sure
}

// thirds is by how much points rise, from the middle of their first third to that of
// the last and on to both ends, and whether they do so in each.
func thirds(ps []point) (rise float64, steady bool) {
	n := len(ps) / 3
	if n < 2 {
		return 0, false
	}
	a, b, c := mean(ps[:n]), mean(ps[n:2*n]), mean(ps[len(ps)-n:])
	rise = (c - a) * 3 / 2
	return rise, min(b-a, c-b) >= storePart*rise
}

func (t *tank) lossEvidence(v *view, l loss, seen bool) aquarium.Evidence {
	perMM, assumed := t.perMM()
	air, learned := t.evaporation(v)
	var e aquarium.Evidence
	if seen {
		s := t.level
		e = aquarium.Evidence{Sensor: s.config.ID, Value: s.value(), Unit: "mm"}
		madeGood := l.byPump // by the top-off: the level does not show what is missing
		if before, ok := s.at(l.since); ok && l.since != 0 {
			if madeGood = before-s.value() < runawayMargin; !madeGood {
				e.Expected = of(before - air/perMM*v.now.Sub(l.since).Hours())
			}
		}
		switch store := t.sensor(t.topOff().From); {
		case madeGood:
			e.Facts = append(e.Facts, word(FactMadeGood, "so far"))
			if l.litresH > 0 && store.current(v.now) {
				e.HarmIn = timeLeft(store.value(), l.litresH)
				e.Facts = append(e.Facts, word(FactAssumed, "nothing comes into the store"))
			}
		case l.litresH > 0:
			e.PerHour = of(-l.litresH / perMM)
			if fill := t.config.Size.FillCM; fill > 0 {
				e.HarmIn = timeLeft(10*fill*intakeDepth+s.value(), l.litresH/perMM)
				e.Facts = append(e.Facts, word(FactAssumed, "intakes a third down"))
			}
		}
	} else {
		e = aquarium.Evidence{Sensor: t.topOff().Pump}
	}
	if assumed {
		e.Facts = append(e.Facts, word(FactAssumed, assumedSize))
	}
	if l.litresH > 0 {
		e.Facts = append(e.Facts, num(FactLoss, l.litresH, "l/h"))
	}
	e.Facts = append(e.Facts, num(FactAir, air, "l/h"))
	if learned {
		e.Facts = append(e.Facts, num(FactLearned, float64(len(last(t.learned.Vessel.Evaporation, evaporationDays))), ""))
	}
	e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookEvaporation, Because: num(FactMay, l.may, "l/h")})
	if on, known := t.on(t.topOff().Pump, v.now); known {
		e.Facts = append(e.Facts, word(FactPump, stateWord(on, known, "on", "off")))
	}
	if t.vessel.standing { // a hose that has come off
		e.Facts = append(e.Facts, word(FactFilter, "stands"))
	}
	return e
}

func blindLoss(t *aquarium.Tank) string {
	tank := newTank("", t)
	p := tank.topOff()
	if tank.level == nil && (t.Sensor(p.Pump) == nil || p.RateLH <= 0) {
		return "neither a level in the tank nor a top_off with pump switch and rate_l_h"
	}
	return ""
}
