package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// A controller with a band of 0.05 swings by about a tenth; twice that under
// the target is no swing. Common practice, no source. It must be told within
// 10 min, so two minutes are taken to be sure of it; it has to be clearly over
// for ten before it is called off.
const (
	overshoot     = 0.20 // pH under the target
	overshootBack = 0.15
	overshootOn   = 2 * time.Minute
	overshootOff  = 10 * time.Minute
	// The bound on CO2 has a deadband of a tenth: the estimate moves by that
	// for 0.04 pH.
	boundBack = 0.9
	// A further fall of this much is worth telling again.
	phStep = 0.3
)

// co2Overshoot: pH well under its target, or estimated CO2 above the tank's
// bound, while dosing is on or plausible. Over an active substrate, which takes
// alkalinity out of the water, the estimate alone raises nothing.
func co2Overshoot(v *view, t *tank) {
	g, ok := t.gasOf(v)
	if !ok {
		return
	}
	stood := v.stands(aquarium.CO2Overshoot, t.config.ID, "co2")
	depth, share := overshoot, 1.0
	if stood {
		depth, share = overshootBack, boundBack
	}
	bound := t.config.Limits.CO2
	under := func(depth float64) bool { return g.part.Target > 0 && g.value < g.part.Target-depth }
	over := func(share float64) bool {
		return bound > 0 && g.co2 > bound*share && t.config.Substrate != aquarium.Active
	}
	is := (under(depth) || over(share)) && (stood || g.plausible(v, t))
	v.find(aquarium.CO2Overshoot, t.config.ID, finding{
		equipment: "co2", true: is, on: overshootOn, off: overshootOff, worse: -g.value, step: phStep,
		prove: func() aquarium.Evidence {
			// The pH is what was measured; the estimate is told where it is what proves.
			if !under(overshoot) && (over(1) || !under(depth) && over(share)) {
				return g.estimated(v, t, bound)
			}
			e := g.evidence(v, t)
			e.Limit = of(g.part.Target - overshoot)
			return e
		},
	})
}
