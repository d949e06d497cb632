package detect

import (
	"math"
	"time"

	"lentic/alert/statistic"
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
	// A valve that leaks, or sticks half open, brings the pH down more slowly and
	// for longer. Near its target a tank whose gas is shut off loses more than is
	// breathed out, and its pH rises by 0.05 to 0.3 an hour; so one that falls for
	// forty minutes by a rate of 0.04, and from each quarter to the next, as no step
	// makes it, gets gas. At the target of a usual tank that is 3 mg/l an hour more
	// than what leaves.
	creepOver  = 40 * time.Minute
	creepParts = 4
	creepFall  = 0.025 // pH within that
	creepStep  = 0.004
	creepUnder = 0.1 // pH under what the night comes to by itself
	// What a controller does day by day it does to a hundredth or two.
	usualLows  = 7 // days
	usualUnder = 0.03
)

// co2ValveStuck: pH keeps falling, or stays down for hours in which it always rises,
// though the valve is commanded shut or dosing hours are over. Once raised it stands
// until the pH has clearly turned, or dosing is called for again: the gas runs out, or
// somebody shut it by hand. Nothing is said of a probe that has yet to show that it tells
// the truth, or has just risen as no water makes it.
func co2ValveStuck(v *view, t *tank) {
	if t.config.Equipment.CO2 == nil {
		return
	}
	g, ok := t.gasOf(v)
	if !ok {
		return
	}
	stood := v.stands(aquarium.CO2ValveStuck, t.config.ID, "co2")
	if (t.unproved() || t.doubt.lifted != 0) && !stood {
		return
	}
	x := g.descent(v, t, stood)
	is, on := false, stuckOn
	if stood {
		is = t.kept || t.haveShut && g.dosed(t, x) && !(x.known && x.perHour > 0.05)
	} else if is = g.runsOn(v, t); is {
		on = runsOnOn
	} else {
		is = t.kept || g.sinks(v, t, x) || g.creeps(v, t) || g.lowers(v, t)
	}
	v.find(aquarium.CO2ValveStuck, t.config.ID, finding{
		equipment: "co2", true: is, on: on, off: stuckOff, worse: -g.value, step: phStep,
		prove: func() aquarium.Evidence { return g.stuck(v, t, x) },
	})
}

// descent is how the pH moves though the valve is shut, where that is known.
type descent struct {
	perHour float64
	gains   float64 // the water, by that, in CO2, mg/l an hour
	known   bool
}

// descent is known of a valve that has just shut once what it let in has mixed.
func (g *gas) descent(v *view, t *tank, stood bool) (x descent) {
	if stood {
		x.perHour, x.known = t.trend(g.ph, v.now, stuckWindow)
	} else if t.haveShut && g.mixed(v, t) {
		x.perHour, x.known = t.drop(g.ph, v.now, stuckWindow, -stuckSlope*stuckWindow.Hours()/2)
	}
	x.gains = -x.perHour * math.Ln10 * g.co2
	return x
}

// mixed reports whether what the valve let in before it shut no longer shows: it has
// been shut for long enough, or the pH is lower than that ever brings it.
func (g *gas) mixed(v *view, t *tank) bool {
	if v.now.Sub(t.shutAt) >= t.mixing() {
		return true
	}
	_, known := t.on(g.part.Valve, v.now)
	return !known && t.underUsual(g)
}

// dosed reports whether the water has so much gas, or gains so much, that it is dosed.
func (g *gas) dosed(t *tank, x descent) bool {
	return g.value < g.part.Target+0.1 || x.known && t.config.Substrate != aquarium.Active && x.gains >= stuckRise
}

// sinks reports whether the pH falls as gas makes it, with the valve shut.
func (g *gas) sinks(v *view, t *tank, x descent) bool {
	return x.known && x.perHour <= stuckSlope && g.dosed(t, x) && g.fell(v, t) &&
		!stepped(g.ph.window(v.now, suddenOver)) && !g.ph.sudden(v.now, t.doubt.rough) && !t.doubt.slackens() && !t.airBrings(v, g, x.gains) && !g.heaved(v, t)
}

// stuck is the pH and what rules a controller out, and all that lives.
func (g *gas) stuck(v *view, t *tank, x descent) aquarium.Evidence {
	e := g.evidence(v, t)
	if t.haveShut {
		e.Facts = append(e.Facts, t.sinceShut(v))
		e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookControl, Because: t.sinceShut(v)})
	}
	if g.value < g.part.Target {
		e.Expected = of(g.part.Target)
	}
	if x.known && x.gains >= stuckRise { // nothing that lives breathes out so much
		e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookPlants, Because: num(FactGain, x.gains, "mg/l")})
	}
	return e
}

// creeps reports whether the pH, near its target, comes down slowly and steadily
// though the valve has been shut for long. Where no filter turns, next to nothing
// leaves the water, and what is breathed out brings it down.
func (g *gas) creeps(v *view, t *tank) bool {
	if !t.haveShut || v.now.Sub(t.shutAt) < t.mixing()+creepOver || g.value >= g.part.Target || !g.leftAlone(v, t, creepOver) {
		return false
	}
	at := v.now.Floor(time.Minute)
	first, prior := 0.0, 0.0
	for i := range creepParts {
		ps := g.ph.held(at.Add(-time.Duration(creepParts-1-i)*creepOver/creepParts), creepOver/creepParts)
		if len(ps) < 4 {
			return false
		}
		x := mean(ps)
		if i == 0 {
			first = x
		} else if prior-x < creepStep {
			return false
		}
		prior = x
	}
	fall := (first - prior) * creepParts / (creepParts - 1)
	return fall >= creepFall && !t.airBrings(v, g, math.Ln10*g.co2*fall/creepOver.Hours())
}

// leftAlone reports whether the valve is known to have been shut for so long, or the pH is
// lower than it ever brings it, and nothing else keeps gas in the water.
func (g *gas) leftAlone(v *view, t *tank, over time.Duration) bool {
	if t.visited || t.changing(v) || t.mayHaveGathered(v, g, over) || t.heldDown(v, g) {
		return false
	}
	if k := t.learned.Drift; k != nil && k.Mornings > 0 && g.value > k.Plateau.Base-creepUnder {
		return false // its nights come to no more by themselves
	}
	if _, known := t.on(g.part.Valve, v.now); !known && !t.hoursOver(over) && !t.underUsual(g) {
		return false
	}
	_, all, _ := t.stillFilters(v)
	return !all && !v.w.mains.lost
}

// hoursOver reports whether the hours of dosing have been over for so long.
func (t *tank) hoursOver(over time.Duration) bool {
	h := t.config.Equipment.CO2.Hours
	return h != nil && !h.Contains(t.clock) && !h.Contains(earlier(t.clock, over))
}

// underUsual reports whether the pH is lower than its controller brings it of a
// day: where nobody tells of the valve, that is how far it may fall before it has
// been shut.
func (t *tank) underUsual(g *gas) bool {
	var lows []float64
	for _, d := range last(t.learned.Sensors[g.part.PH].Days, usualLows) {
		if d.N > 0 {
			lows = append(lows, d.Low)
		}
	}
	return len(lows) >= traitLeast && g.value <= statistic.Median(lows)-usualUnder
}

// fell reports whether the pH is well under the highest since the valve shut,
// as far as that lies within the hour: by more than what it had let in still brings.
func (g *gas) fell(v *view, t *tank) bool {
	least := max(stuckFall, t.underWay(v, 0))
	for _, p := range g.ph.window(v.now, min(time.Hour, v.now.Sub(t.shutAt))) {
		if p.v >= g.value+least {
			return true
		}
	}
	return false
}
