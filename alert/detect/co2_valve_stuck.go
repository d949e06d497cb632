package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// What the valve let in before it shut goes on mixing for some minutes: by
// then the pH has come down by a few hundredths more and stays. It must be told
// within 20 min of the command while the pH keeps falling, so ten minutes are
// left for mixing and three to be sure. Common practice, no source.
const (
	stuckMixing = 10 * time.Minute
	stuckFall   = 0.05  // pH under what it was when the valve shut
	stuckSlope  = -0.15 // pH per hour; plants and animals at night stay under a third of it
	stuckOn     = 3 * time.Minute
	stuckOff    = 10 * time.Minute
)

// co2ValveStuck: pH keeps falling though the valve is commanded shut or dosing
// hours are over. Once raised it stands until the pH has clearly turned, or
// dosing is called for again: the gas runs out, or somebody shut it by hand.
func co2ValveStuck(v *view, t *tank) {
	if t.config.Equipment.CO2 == nil {
		return
	}
	g, ok := t.gasOf(v)
	if !ok {
		return
	}
	p, sloped := t.trend(g.ph, v.now, 10*time.Minute)
	shut := v.now.Sub(t.shutAt)
	fell := t.haveShut && shut >= stuckMixing && g.value <= t.shutPH-stuckFall && g.value < g.part.Target+0.1
	is := fell && sloped && p <= stuckSlope && !stepped(g.ph.window(v.now, 15*time.Minute))
	if v.stands(aquarium.CO2ValveStuck, t.config.ID, "co2") {
		is = fell && !(sloped && p > 0.05)
	}
	e := g.evidence(v, t)
	if t.haveShut {
		e.Facts = append(e.Facts, num(FactShut, minutes(shut), "min"))
	}
	v.find(aquarium.CO2ValveStuck, t.config.ID, finding{
		equipment: "co2", true: is, on: stuckOn, off: stuckOff, worse: -g.value, step: phStep, evidence: e,
	})
}
