package detect

import (
	"slices"
	"time"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// Ten minutes past full it is told. The mean of five minutes is held against the
// capacity, or what this reservoir usually comes to, by so much that a float which
// closes a little late is not blamed: of readings of 0.3 l noise and resolution it
// leaves 0.15 l, of one a minute, and needs no delay besides. It must go on rising, or refilling be commanded:
// water that is there and does not grow floods nothing.
const (
	overfullMean    = 5 * time.Minute
	overfullMargin  = 0.6 // l over what is usual
	overfullUnknown = 1.0 // l over the capacity, where that is not known yet; or a hundredth
	overfullRise    = 0.5 // l in ten minutes
	// From each fifth of an hour to the next, l: far beyond that noise, over all five; that no
	// meter wanders so above what it ever read is common practice, no source.
	overfullCreep = 0.25
	overfullParts = 5
	overfullOff   = 10 * time.Minute
	overfullStep  = 10.0 // l more are worth telling again
	bucketFor     = 3 * time.Minute
	bucketNoise   = 1.5 // l
	// Without a volume a refilling for longer than from empty to full, or from
	// what was last heard, and some, goes on past full.
	overfullTime = 1.25
	// assumedSpare is how much over its capacity a reservoir holds up to its
	// rim: that is not configured. Common practice, no source.
	assumedSpare = 0.1
)

// reservoirOverfull: the stored water keeps coming.
func reservoirOverfull(v *view, t *tank) {
	part := t.config.Equipment.Reservoir
	if part == nil || part.CapacityL <= 0 {
		return
	}
	f := finding{equipment: "reservoir", off: overfullOff}
	on, known := t.parts.refill.isOn(v.now)
	s := t.parts.stored
	rise := 0.0
	if s.current(v.now) {
		ps := s.window(v.now, overfullMean)
		if len(ps) < 3 {
			return
		}
		full := t.fullAt()
		if roughly(ps) <= full-aHair && v.unheard(aquarium.ReservoirOverfull, t.config.ID, f.equipment) {
			return // as nearly always
		}
		now := mean(ps)
		if before := s.upTo(v.now.Add(-2 * overfullMean)); len(before) > 0 {
			from := max(0, len(before)-len(ps))
			rise = now - mean(before[from:])
		}
		stood := v.stands(aquarium.ReservoirOverfull, t.config.ID, f.equipment)
		if (stood || now > full) && t.poured(v, s) {
			rise = 0
		}
		f.true = now > full && (known && on || rise >= overfullRise && s.climbs(v.now) || s.creeps(v.now))
		if stood {
			f.true = now > full-overfullMargin/2 && (known && on || rise >= overfullRise/2 || s.creeps(v.now))
		}
		f.worse, f.step = now, overfullStep
	} else if !known || t.fillTime(part.CapacityL, v.now) >= day {
		return
	} else {
		from := t.unheard()
		missing := max(0, part.CapacityL-from.v)
		f.true = on && v.now.Sub(from.at) > time.Duration(overfullTime*float64(t.fillTime(missing, v.now)))
		f.since = from.at
	}
	f.prove = func() aquarium.Evidence { return t.overfullEvidence(v, s, rise/(2*overfullMean).Hours()) }
	v.find(aquarium.ReservoirOverfull, t.config.ID, f)
}

// climbs reports whether a store's readings rise beyond their noise: over a quarter of an
// hour, or from each ten minutes to the next for half an hour.
func (s *series) climbs(at aquarium.Instant) bool {
	if rises(s.window(at, 3*overfullMean)) {
		return true
	}
	ps := s.window(at, 6*overfullMean)
	if n := len(ps) / 3; n > 0 {
		a, b, c := mean(ps[:n]), mean(ps[n:2*n]), mean(ps[2*n:])
		return b-a >= overfullRise && c-b >= overfullRise
	}
	return false
}

// creeps reports whether a store's readings rise from each twelve minutes to the next for an
// hour: a unit that makes little takes that to show it, and a bucket is over in less.
func (s *series) creeps(at aquarium.Instant) bool {
	ps := s.filled(at, time.Hour)
	n := len(ps) / overfullParts
	if n == 0 || ps[len(ps)-1].at.Sub(ps[0].at) < time.Hour-overfullMean {
		return false
	}
	for i := 1; i < overfullParts; i++ {
		if mean(ps[i*n:(i+1)*n])-mean(ps[(i-1)*n:i*n]) < overfullCreep {
			return false
		}
	}
	return true
}

// unheard is from when on only the switch tells what has come in, and what was stored
// then: nothing, where that was not heard since it came on.
func (t *tank) unheard() point {
	on := t.parts.refill.since
	if told := t.vessel.refill.told; told.at > on {
		return told
	}
	return point{at: on}
}

// poured reports whether more came within the last minutes than the unit makes: a
// bucket, which is over when it is empty.
func (t *tank) poured(v *view, s *series) bool {
	usual, _ := t.usualRefill(v.now)
	if usual <= 0 {
		return false
	}
	ps := s.window(v.now, 3*overfullMean)
	j := 0
	for _, p := range ps {
		for p.at.Sub(ps[j].at) > bucketFor {
			j++
		}
		if p.v-ps[j].v > 2*usual*p.at.Sub(ps[j].at).Hours()+bucketNoise {
			return true
		}
	}
	return false
}

// fullAt is what the reservoir holds at the most when all is well, l: the second
// highest of its days, for one that went wrong is no rule.
func (t *tank) fullAt() float64 {
	if m := &t.fullMemo; !m.holds(t.learned, 0) {
		*m = memo{of: t.learned, v: t.fullest()}
	}
	return t.fullMemo.v
}

func (t *tank) fullest() float64 {
	capacity := t.config.Equipment.Reservoir.CapacityL
	highest := slices.Clone(t.learned.Vessel.Highest)
	if len(t.learned.Vessel.Refills) == 0 || len(highest) == 0 { // of a day that ended overfull only the filling is learned
		return capacity + max(overfullUnknown, capacity/100)
	}
	statistic.Median(highest) // sorts
	return max(capacity, highest[max(0, len(highest)-2)]) + overfullMargin
}

func (t *tank) overfullEvidence(v *view, s *series, perHour float64) aquarium.Evidence {
	part := t.config.Equipment.Reservoir
	on, known := t.on(part.Refill, v.now)
	e := aquarium.Evidence{Sensor: part.Refill, Limit: of(part.CapacityL), Unit: "l"}
	if s.current(v.now) {
		e.Sensor, e.Value, e.Expected = part.Volume, s.value(), of(part.CapacityL)
		e.PerHour = of(perHour)
		if usual := t.fullAt() - overfullMargin; len(t.learned.Vessel.Refills) > 0 && e.Value > usual {
			e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookFloat, Because: num(FactMay, usual, "l")})
		}
		if e.HarmIn = timeLeft((1+assumedSpare)*part.CapacityL-s.value(), perHour); e.HarmIn != nil {
			e.Facts = append(e.Facts, word(FactAssumed, "rim a tenth over full"))
		}
	} else if usual, _ := t.usualRefill(v.now); usual > 0 {
		from := t.unheard()
		if e.Value = from.v + usual*v.now.Sub(from.at).Hours(); from.v == 0 {
			e.Facts = append(e.Facts, word(FactAssumed, "empty when it began"))
		}
	}
	e.Facts = append(e.Facts, word(FactRefill, stateWord(on, known, "on", "off")))
	if known && on {
		e.Facts = append(e.Facts, lasting(FactRun, v.now.Sub(t.sensor(part.Refill).since)))
	}
	return e
}

func blindOverfull(t *aquarium.Tank) string {
	switch r := t.Equipment.Reservoir; {
	case r == nil:
		return "no reservoir under equipment"
	case r.CapacityL <= 0:
		return "no capacity_l under reservoir"
	case t.Sensor(r.Volume) == nil && (t.Sensor(r.Refill) == nil || r.ProductionLH <= 0):
		return "neither a volume sensor nor a refill switch with production_l_h under reservoir"
	}
	return ""
}
