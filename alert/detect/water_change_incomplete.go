package detect

import (
	"time"

	"lentic/collector/aquarium"
)

const (
	changeOff  = 2 * time.Minute
	changeStep = 50.0 // mm further down is worth telling again
)

// waterChangeIncomplete: an automatic change let water out and does not let the
// new water in, or does not stop letting it out.
func waterChangeIncomplete(v *view, t *tank) {
	part := t.config.Equipment.WaterChange
	if part == nil {
		return
	}
	c := &t.vessel.change
	f := finding{equipment: "water_change", off: changeOff}
	s := t.level
	seen := c.seen && s.current(v.now)
	if c.going && c.seen && !seen {
		return // the level has fallen silent half-way
	}
	if c.going {
		f.true, f.since = c.stuck(t, v, s)
	}
	if seen {
		f.worse, f.step = -s.value(), changeStep
	}
	f.prove = func() aquarium.Evidence { return c.evidence(t, v, s) }
	v.find(aquarium.WaterChangeIncomplete, t.config.ID, f)
}

// stuck reports whether the change has come to rest half-way, and since when; or
// does not stop.
func (c *change) stuck(t *tank, v *view, s *series) (bool, aquarium.Instant) {
	part := t.config.Equipment.WaterChange
	out, outKnown := t.on(part.Out, v.now)
	_, inKnown := t.on(part.In, v.now)
	wait := changeWaits
	if !outKnown || !inKnown {
		wait = changeWaitsSeen
	}
	if !c.seen {
		return inKnown && !c.in && v.now.Sub(c.moved) >= wait, c.moved
	}
	down := c.before - s.value()
	if whole := c.whole(t); whole > 0 && down > changeTooMuch*whole+changeMargin {
		return true, v.now
	}
	if outKnown && !out && inKnown && !c.in && c.fell(t) && v.now.Sub(t.sensor(part.Out).since) >= wait {
		return true, t.sensor(part.Out).since // whatever the top-off makes good
	}
	if c.short && v.now.Sub(c.ended) >= wait {
		return true, c.ended
	}
	if v.stands(aquarium.WaterChangeIncomplete, t.config.ID, "water_change") { // until the water is back
		return down > c.missing(t), 0
	}
	rests := c.rests(v, s, wait) || !inKnown && c.creeps(t, v, s, changeWaits) || outKnown && !out && inKnown && !c.in && t.tops(v) && v.now.Sub(t.sensor(part.Out).since) >= wait
	return rests && down > c.missing(t), v.now.Add(-wait)
}

func (c *change) evidence(t *tank, v *view, s *series) aquarium.Evidence {
	part := t.config.Equipment.WaterChange
	out, outKnown := t.on(part.Out, v.now)
	in, inKnown := t.on(part.In, v.now)
	var e aquarium.Evidence
	if c.seen && s.current(v.now) {
		perMM, assumed := t.perMM()
		e = aquarium.Evidence{Sensor: s.config.ID, Value: s.value(), Unit: "mm", Expected: of(c.before), Limit: of(c.before - c.missing(t))}
		e.Facts = append(e.Facts, num(FactMissing, (c.before-s.value())*perMM, "l"))
		if assumed {
			e.Facts = append(e.Facts, word(FactAssumed, assumedSize))
		}
	} else {
		e.Sensor = part.Out
	}
	e.Facts = append(e.Facts, word(FactOut, stateWord(out, outKnown, "on", "off")), word(FactIn, stateWord(in, inKnown, "on", "off")),
		lasting(FactFor, v.now.Sub(c.began)))
	if c.going && v.now.Sub(c.moved) >= changeWaits {
		e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookChange, Because: lasting(FactStill, v.now.Sub(c.moved))})
	}
	if t.topOff().Pump != "" {
		on, known := t.on(t.topOff().Pump, v.now)
		e.Facts = append(e.Facts, word(FactPump, stateWord(on, known, "on", "off")))
	}
	return e
}

func blindChange(t *aquarium.Tank) string {
	tank := newTank("", t)
	switch w := t.Equipment.WaterChange; {
	case w == nil:
		return "no water_change under equipment"
	case tank.level == nil && (t.Sensor(w.Out) == nil || t.Sensor(w.In) == nil):
		return "neither a level nor both switches under water_change"
	case tank.level != nil && t.Sensor(w.Out) == nil && len(w.At) == 0:
		return "neither times nor a switch for what goes out under water_change"
	}
	return ""
}
