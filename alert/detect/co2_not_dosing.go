package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// Gas that comes shows: in a large tank whose morning takes four hours the pH
// still falls by a tenth an hour near its target. It must be told after 60 min of
// asking in vain, also where gas that came stops in the middle, and goes on mixing
// for ten: so the last 35 are looked at, 45 after it was asked for at the soonest.
// Common practice, no source.
const (
	vainFor  = 45 * time.Minute
	vainOver = 35 * time.Minute
	vainFall = 0.025 // pH within that
	// About the band the gas may just come to what plants and the surface take:
	// then only a rise as fast as water loses gas to the room proves anything.
	vainAbove = 0.03
	vainRise  = 0.045
	// Where the valve usually holds the pH with half of its time, a rise that noise
	// cannot make says that less than half of the gas comes.
	vainAmple = 0.03
	// Nearer to the target than to what the night comes to a pH that does not rise is kept
	// down by gas: an electrode that reads high has its controller ask for more than comes.
	vainStays = 0.01
	ampleDuty = 0.5
	vainOn    = 5 * time.Minute
	vainOff   = 5 * time.Minute
	vainEnds  = 0.1 // a fall of so much is an answer
	usualNear = 0.05
	usualOpen = 0.9 // a valve that is open for so much of an hour is asking
	usualDays = 3
	emptyKG   = 0.05
	trickle   = 0.12 // of the gas that usually comes is as good as none
	// Where that would bring the pH down by trickleFall, noise hides nothing.
	trickleFall = 0.08
	// What was asked for in vain the day before counts: then the morning need not
	// be waited out, if it is one whose gas is known to show so soon. An electrode
	// that follows late is waited for.
	vainSoon   = 18 * time.Minute
	vainBefore = 25 * time.Minute // that long, or it may just not have come yet
)

// A pH that was held and rises out of its band past where gas that comes would have
// turned it, for as long as vainOver and to the last, need not be waited for either.
const (
	escapesAsked = 15 * time.Minute
	escapesLast  = 10 * time.Minute
	escapesRise  = 0.03
	escapesStill = 0.005 // of it in escapesLast, at the least
	escapesAbove = 0.02
)

// co2NotDosing: dosing is called for and the pH does not answer. A tank whose gas
// never was enough to bring the pH down at this time of day does so on other days
// too, and that is no news: its plants take what comes. Nothing is said in a
// visit, of a probe that stands still or has yet to show that it tells the truth, and
// while nothing is asked for.
func co2NotDosing(v *view, t *tank) {
	g, ok := t.gasOf(v)
	if !ok || t.visited || t.stuck(g.ph, 0.5) {
		return
	}
	d := &t.dosing
	stood := v.stands(aquarium.CO2NotDosing, t.config.ID, "co2")
	if t.unproved() && !stood {
		return
	}
	short := t.turnsShort(v, &g)
	if d.asked == 0 && !short {
		if !stood || g.value <= g.part.Target+g.part.Band {
			v.find(aquarium.CO2NotDosing, t.config.ID, finding{
				equipment: "co2", off: vainOff, prove: func() aquarium.Evidence { return t.vain(v, &g) },
			})
		}
		return
	}
	is := short || t.unanswered(v, &g) || stood && g.fallen(v, vainOver) < vainEnds
	v.find(aquarium.CO2NotDosing, t.config.ID, finding{
		equipment: "co2", true: is, on: vainOn, off: vainOff,
		prove: func() aquarium.Evidence { return t.vain(v, &g) },
	})
}

// unanswered reports whether the gas is asked for now and has been for long enough to
// tell that it does not come.
func (t *tank) unanswered(v *view, g *gas) bool {
	d := &t.dosing
	if d.asked == 0 || v.now.Sub(d.last) >= pulse {
		return false
	}
	if g.part.Target <= 0 && d.came(v, g) {
		return false
	}
	asked := v.now.Sub(max(d.asked, t.calibrations.at)) // what it rose by then is the probe's
	return asked >= vainFor && t.vainly(v, g) || t.vainAgain(v, g, asked) || asked >= escapesAsked && t.escapes(v, g)
}

// came reports, where a clock doses and nothing holds a pH, whether the gas has brought
// it down as far as it goes: it is lower than when it was asked for, as far as that is
// known, and does not rise as it would without.
func (d *dosing) came(v *view, g *gas) bool {
	midway := d.asked <= d.disturbed
	return (midway || d.from-g.value >= vainEnds) && g.fallen(v, vainOver) > -vainRise
}

// vainly reports whether the pH does not answer the gas that is asked for, as far
// as the last minutes show. What it has stepped by meanwhile is a current's, and may hide
// an answer.
func (t *tank) vainly(v *view, g *gas) bool {
	step := t.doubt.hops.lately(v.now, vainOver)
	fall := g.fallen(v, vainOver) + step
	above, rise := g.aboveBand(v, vainAbove+step), vainRise
	if t.ample() {
		rise = vainAmple
	}
	least := vainFall
	if t.downByGas(g) {
		least = -vainStays
	}
	risen := func() bool {
		return fall < -rise && !t.letsRise(v, g) && evenly(g.ph.held(v.now.Floor(time.Minute), vainOver))
	}
	return (fall < least && (above || risen()) || above && t.trickles(v, g, vainOver) ||
		step == 0 && t.risesOpen(v, g)) && !t.usuallyThere(v, g)
}

// letsRise reports whether the controller itself may be what lets the pH rise: under its
// target one that opens the valve by pulses makes them shorter.
func (t *tank) letsRise(v *view, g *gas) bool {
	x := t.parts.valve
	if x == nil || g.part.Target <= 0 || x.on && v.now.Sub(x.since) >= pulse {
		return false
	}
	ps := g.ph.held(v.now, vainOn)
	return len(ps) > 0 && mean(ps) <= g.part.Target
}

// downByGas reports whether the pH is nearer to its target than to what the night comes
// to, where that is known.
func (t *tank) downByGas(g *gas) bool {
	return t.doubt.night != 0 && g.part.Target > 0 && g.value < (g.part.Target+t.doubt.night)/2
}

// aboveBand reports whether the pH is by so much over where its controller holds it, by
// the mean of some minutes: else a last digit begins the delay anew again and again.
func (g *gas) aboveBand(v *view, by float64) bool {
	ps := g.ph.held(v.now, vainOn)
	return len(ps) > 0 && mean(ps) > g.part.Target+g.part.Band+by
}

// ample reports whether the valve is known to hold the pH with less than half of its
// time: by day, or by day and night.
func (t *tank) ample() bool {
	k := &t.learned.Vigour
	return len(k.Duties) >= vigourLeast && k.Duty < math.Log10(ampleDuty)
}

// escapes reports whether the pH was held and has risen steadily out of its band.
func (t *tank) escapes(v *view, g *gas) bool {
	if !g.aboveBand(v, escapesAbove) || t.mayBeLate() || t.doubt.hops.lately(v.now, vainOver) != 0 || t.changedWithin(v, vainOver+escapesLast) {
		return false
	}
	ps := g.ph.held(v.now.Floor(time.Minute), vainOver)
	if len(ps) < 4 || mean(ps[:max(1, len(ps)/10)]) > g.part.Target+g.part.Band {
		return false
	}
	rise, steady := thirds(ps)
	return steady && rise >= escapesRise && g.fallen(v, escapesLast) <= -escapesStill && !t.usuallyThere(v, g)
}

// vainAgain reports whether what has been asked for that long does not come this
// morning either.
func (t *tank) vainAgain(v *view, g *gas, asked time.Duration) bool {
	return asked >= vainSoon && asked+t.dosing.vain >= vainFor && !t.mayBeLate() && t.doubt.hops.lately(v.now, vainSoon) == 0 && t.trickles(v, g, vainSoon-rampMixing)
}

// trickles reports whether of the gas that usually comes of a morning next to
// nothing does. Well above the target what leaves is little beside what comes, so
// that what the water gains is what is let in.
func (t *tank) trickles(v *view, g *gas, over time.Duration) bool {
	k := &t.learned.Vigour
	if len(k.Rates) < vigourLeast {
		return false
	}
	ps := g.ph.held(v.now.Floor(time.Minute), over)
	if len(ps) < 4 || mean(ps) < (g.part.Target+k.Night)/2 {
		return false
	}
	usual := math.Pow(10, k.Rate) * over.Hours()
	if math.Log10(1+usual*math.Pow(10, ps[0].v)) < trickleFall {
		return false
	}
	n := max(1, len(ps)/10)
	gained := math.Pow(10, -mean(ps[len(ps)-n:])) - math.Pow(10, -mean(ps[:n]))
	return gained < trickle*usual
}

// fallen is how far the pH has come down from where it was within the time: from
// the mean of its first tenth, so that no lone reading decides.
func (g *gas) fallen(v *view, over time.Duration) float64 {
	ps := g.ph.held(v.now.Floor(time.Minute), over)
	if len(ps) < 4 {
		return math.Inf(1)
	}
	return mean(ps[:max(1, len(ps)/10)]) - mean(ps[len(ps)-max(1, len(ps)/10):])
}

// usuallyThere reports whether on most of the last days, as far as they are
// known, the pH was as high at this time and dosing was asked for all the same.
func (t *tank) usuallyThere(v *view, g *gas) bool {
	there, days := 0, 0
	for i := range usualDays {
		at := v.sameHour(i + 1)
		h := t.hourOf(g.ph, at)
		if h.N == 0 {
			continue
		}
		days++
		asked := h.Mean > g.part.Target+g.part.Band
		if x := t.sensor(g.part.Valve); x != nil {
			valve := t.hourOf(x, at)
			asked = valve.N > 0 && valve.Mean >= usualOpen
		}
		if asked && h.Mean >= g.value-usualNear {
			there++
		}
	}
	return there > 0 && 2*there >= days
}

// vain is the pH, what it should have come to as the tank's mornings go, and what
// else it may be.
func (t *tank) vain(v *view, g *gas) aquarium.Evidence {
	e := g.evidence(v, t)
	d := &t.dosing
	since := d.asked
	if t.turnsShort(v, g) {
		since = d.sweeps.from
	}
	if since != 0 {
		asked := v.now.Sub(since)
		e.Facts = append(e.Facts, lasting(FactAsked, asked))
		for i, f := range e.Facts { // between two of its pulses it is shut
			if f.Name == FactValve && f.Word == "shut" {
				e.Facts[i].Word = "pulses"
			}
		}
		if k := t.learned.Drift; k != nil && k.Mornings > 0 && asked > rampMixing {
			gained := math.Pow(10, k.Rate.Base) * (asked - rampMixing).Hours()
			e.Expected = of(max(g.part.Target, -math.Log10(math.Pow(10, -d.from)+gained)))
		}
	}
	e.Excluded = append(e.Excluded, t.powered(v)...)
	e.Excluded = append(e.Excluded, g.ph.alive(v, vainOver)...)
	if left, ok := t.cylinder(v); ok {
		e.Facts = append(e.Facts, num(FactLeft, left, "kg"))
		if left > emptyKG {
			e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookCylinder, Because: num(FactLeft, left, "kg")})
		}
	}
	return e
}

// alive rules a dead probe out, which has no noise.
func (s *series) alive(v *view, over time.Duration) []aquarium.Excluded {
	if ps := s.window(v.now, over); len(ps) > 0 {
		if low, high := extremes(ps); high > low {
			return []aquarium.Excluded{{What: aquarium.LookProbe, Because: num(FactMoved, high-low, s.config.Quantity.Unit())}}
		}
	}
	return nil
}

// cylinder is how much gas is left, where it is weighed.
func (t *tank) cylinder(v *view) (kg float64, ok bool) {
	c := t.config.Equipment.CO2.Cylinder
	if c == nil || !t.sensor(c.Mass).current(v.now) {
		return 0, false
	}
	return t.sensor(c.Mass).value() - c.TareKG, true
}

func blindNotDosing(t *aquarium.Tank) string {
	if why := blindCO2(t); why != "" {
		return why
	}
	if p := t.Equipment.CO2; p.Target <= 0 && p.Hours == nil && t.Sensor(p.Valve) == nil {
		return "neither target, hours nor valve under co2"
	}
	return ""
}
