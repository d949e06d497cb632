package detect

import (
	"math"
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
	// Gas that comes slowly takes a quarter of an hour through a meter's noise, and its last
	// digit flickers meanwhile: what has been over is so until it is clearly no more.
	overshootEdge = 0.02 // pH
	overshootOff  = 10 * time.Minute
	// The bound on CO2 has a deadband of a tenth: the estimate moves by that
	// for 0.04 pH.
	boundBack = 0.9
	// A further fall of this much is worth telling again.
	phStep = 0.3
	// A controller shuts its valve under its band. One that is told open there for so long,
	// where the pH is lower than it ever brings it of a day and twice as far under the target
	// as it means to, is not led by it.
	openUnderFor   = 20 * time.Minute
	openUnderOver  = 10 * time.Minute
	openUnderLeast = 0.1 // pH under the target
	// As a cylinder runs out its reducer may let through many times the flow. A
	// pH that is under its band already and falls three times as fast as gas brings
	// it down of a morning is told at once; where no morning is known, at 2.4 an
	// hour.
	surgeOver  = 5 * time.Minute
	surgeTimes = 3
	surgeLeast = 0.12 // pH within that
	surgeMost  = 0.20
	// A morning whose gas surges is over in a moment, and shows how fast that came.
	surgeShows = time.Hour
	// Gas goes on coming: what has fallen in surgeLast by less than surgeShare of what that
	// makes is a probe that comes out of something else.
	surgeLast  = 2 * time.Minute
	surgeShare = 0.6
)

// co2Overshoot: pH well under its target, or estimated CO2 above the tank's
// bound, while dosing is on or plausible. Over an active substrate, which takes
// alkalinity out of the water, the estimate alone raises nothing; and what a current in
// the water may be the reason of is that current's doing.
func co2Overshoot(v *view, t *tank) {
	g, ok := t.gasOf(v)
	if !ok {
		return
	}
	stood := v.stands(aquarium.CO2Overshoot, t.config.ID, "co2")
	depth, share := overshoot, 1.0
	if stood {
		depth, share = overshootBack, boundBack
	} else if v.began(aquarium.CO2Overshoot, t.config.ID, "co2") {
		depth, share = overshoot-overshootEdge, math.Pow(10, -overshootEdge)
	}
	bound, leeway := t.config.Limits.CO2, t.leeway()
	under := func(depth float64) bool { return g.part.Target > 0 && g.value < g.part.Target-depth-leeway }
	over := func(share float64) bool {
		return bound > 0 && g.co2 > bound*share && (leeway == 0 || g.co2 > bound*share*math.Pow(10, leeway)) && t.config.Substrate != aquarium.Active
	}
	runs := g.openUnder(v, t)
	is, on := (under(depth) || over(share) || runs) && (stood || g.plausible(v, t) && !g.ph.leapt(v.now, recent, g.part.Target-g.part.Band)), overshootOn
	if !stood && g.surges(v, t) {
		is, on = true, 0
	}
	v.find(aquarium.CO2Overshoot, t.config.ID, finding{
		equipment: "co2", true: is, on: on, off: overshootOff, worse: -g.value, step: phStep,
		prove: func() aquarium.Evidence {
			// The pH is what was measured; the estimate is told where it is what proves.
			if !runs && !under(overshoot) && (over(1) || !under(depth) && over(share)) {
				e := g.estimated(v, t, bound)
				e.Excluded = append(e.Excluded, g.ph.alive(v, vainOver)...)
				return e
			}
			e := g.evidence(v, t)
			e.Limit, e.Expected = of(g.part.Target-overshoot), of(g.part.Target)
			if under(2 * g.part.Band) {
				e.Excluded = append(e.Excluded, g.swing())
			}
			if ps := g.ph.window(v.now, surgeOver); !under(overshoot) && len(ps) > 0 && ps[0].v-g.value >= surgeLeast { // told as a surge
				e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookControl, Because: num(FactFell, ps[0].v-g.value, "pH")})
			}
			return e
		},
	})
}

// openUnder reports whether the valve is told open, and has been, where its controller
// should long have shut it.
func (g *gas) openUnder(v *view, t *tank) bool {
	x := t.parts.valve
	if x == nil || !x.on || g.part.Target <= 0 || g.value >= g.part.Target-max(openUnderLeast, 2*g.part.Band) || // as nearly always
		v.now.Sub(x.since) < openUnderFor || t.visited || !t.underUsual(g) {
		return false
	}
	ps := g.ph.held(v.now, openUnderOver)
	if len(ps) < 4 {
		return false
	}
	_, high := extremes(ps)
	return high < g.part.Target-g.part.Band && !g.ph.sudden(v.now, t.doubt.rough)
}

// surges reports whether the pH, under its band already, falls as no normal flow
// of gas makes it, and goes on. Somebody at work makes it fall so, from a buffer's.
func (g *gas) surges(v *view, t *tank) bool {
	if g.part.Target <= 0 || g.value >= g.part.Target-g.part.Band || t.visited || t.doubt.rough >= roughMay/2 || !g.plausible(v, t) {
		return false
	}
	least := surgeMost
	if k := t.learned.Drift; k != nil && k.Mornings > 0 {
		usual := math.Pow(10, max(k.Rate.Base, t.dosing.lately(v.now))+g.part.Target) / math.Ln10 // pH per hour at the target
		least = max(surgeLeast, surgeTimes*usual*surgeOver.Hours())
	}
	ps := g.ph.window(v.now, surgeOver)
	if len(ps) < 4 {
		return false
	}
	// Of readings a minute it is four of the five; less than surgeLeast is a calibration.
	least = max(surgeLeast, least*ps[len(ps)-1].at.Sub(ps[0].at).Hours()/surgeOver.Hours())
	return ps[0].v-g.value >= least && !stepped(ps) && g.goesOn(v, ps[0].v)
}

// lately is the rate of the day's morning, for of less alkalinity gas makes more of a fall:
// of the one before while it is just over, and may be what is asked about. It is less than
// any rate where neither is known.
func (d *dosing) lately(at aquarium.Instant) float64 {
	m := d.morning
	switch ago := at.Sub(m.At); {
	case m.At == 0 || ago >= day:
	case ago >= surgeShows:
		return m.Rate
	case m.Before != 0:
		return m.Before
	}
	return math.Inf(-1)
}

// goesOn reports whether the pH has come down from there within surgeOver as gas that
// comes steadily makes it, to the last.
func (g *gas) goesOn(v *view, from float64) bool {
	then, ok := g.ph.at(v.now.Add(-surgeLast))
	share := surgeLast.Hours() / (surgeOver - surgeLast).Hours()
	return !ok || then-g.value >= surgeShare*math.Log10(1+share*(1-math.Pow(10, then-from)))
}
