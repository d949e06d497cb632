package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// What the valve let in before it shut goes on mixing for some minutes: by
// then the pH has come down by a few hundredths more and stays. It must be told
// within 20 min of the command while the pH keeps falling, so ten minutes are
// left for mixing and three to be sure. Common practice, no source.
const (
	stuckMixing = 10 * time.Minute
	stuckFall   = 0.05  // pH under the highest since then, within the hour
	stuckSlope  = -0.15 // pH per hour
	stuckWindow = 10 * time.Minute
	// Animals and plants breathe out 1 to 3 mg/l of CO2 an hour; a valve lets
	// in 15 to 80. What is far above the target is told by that alone, and
	// only where the estimate may be judged.
	stuckRise = 6.0 // mg/l per hour
	stuckOn   = 3 * time.Minute
	stuckOff  = 10 * time.Minute
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
	stood := v.stands(aquarium.CO2ValveStuck, t.config.ID, "co2")
	shut := v.now.Sub(t.shutAt)
	var p float64
	var sloped bool
	if stood {
		p, sloped = t.trend(g.ph, v.now, stuckWindow)
	} else if t.haveShut && shut >= stuckMixing {
		p, sloped = t.drop(g.ph, v.now, stuckWindow, -stuckSlope*stuckWindow.Hours()/2)
	}
	dosed := g.value < g.part.Target+0.1 ||
		sloped && t.config.Substrate != aquarium.Active && -p*math.Ln10*g.co2 >= stuckRise
	is := t.haveShut && dosed && shut >= stuckMixing && sloped && p <= stuckSlope && g.fell(v, t) &&
		!stepped(g.ph.window(v.now, 15*time.Minute))
	if stood {
		is = t.haveShut && dosed && !(sloped && p > 0.05)
	}
	v.find(aquarium.CO2ValveStuck, t.config.ID, finding{
		equipment: "co2", true: is, on: stuckOn, off: stuckOff, worse: -g.value, step: phStep,
		prove: func() aquarium.Evidence {
			e := g.evidence(v, t)
			if t.haveShut {
				e.Facts = append(e.Facts, lasting(FactShut, shut))
				e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookControl, Because: lasting(FactShut, shut)})
			}
			if g.value < g.part.Target {
				e.Expected = of(g.part.Target)
			}
			if rise := -p * math.Ln10 * g.co2; sloped && rise >= stuckRise { // nothing that lives breathes out so much
				e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookPlants, Because: num(FactGain, rise, "mg/l")})
			}
			return e
		},
	})
}

// fell reports whether the pH is well under the highest since the valve shut,
// as far as that lies within the hour.
func (g *gas) fell(v *view, t *tank) bool {
	for _, p := range g.ph.window(v.now, min(time.Hour, v.now.Sub(t.shutAt))) {
		if p.v >= g.value+stuckFall {
			return true
		}
	}
	return false
}
