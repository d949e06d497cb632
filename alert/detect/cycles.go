package detect

import (
	"math"
	"time"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// A tank that doses day and night has no mornings. What it has is its controller's
// hysteresis: the valve opens at the upper edge of the band and shuts at the lower one,
// and the pH goes to and fro between them, some minutes behind. While it is shut 10^-pH
// falls by what leaves, is breathed out and taken up; while it is open it gains as much
// again, for each cycle ends where it began: by how fast it falls, and by the valve's
// share, gas comes, whatever the lamp, the plants, the filters and the room do meanwhile.
// The slope is that of the longer phase, which is known the better. At a given alkalinity
// it goes with CO2: it is the rate of a morning's gas, many times a day. Common practice,
// no source.
const (
	phaseLeast  = 6 * time.Minute // that a slope is taken over, once the gas shows
	phasePoints = 60              // that a slope is taken of: more make it no better
	cycleSettle = time.Hour       // after a disturbance
	cyclesFor   = 12 * time.Hour  // what they have come to is that of so long
	// So many must lie on both sides of a step of stepLeast, as a logarithm, and of
	// stepTimes what they scatter by, besides what alkalinity that is lost within days or
	// an electrode that drifts as fast comes to meanwhile: then somebody has turned the
	// needle valve, or the cylinder is at its end.
	stepCycles = 3
	stepLeast  = 0.09
	stepPerDay = 0.15
	stepTimes  = 4
	turnBack   = 0.03 // pH, or noise may make it
)

// cycle is a shutting of the valve and the opening after it.
type cycle struct {
	at    aquarium.Instant // when it was over
	gas   float64          // how fast it comes, as Rate of a morning
	open  time.Duration
	whole time.Duration
}

// cycles follow each other, the oldest first. They are never changed.
type cycles []cycle

// cycling follows the cycles of a tank that doses day and night.
type cycling struct {
	of      aquarium.Instant // since when the present phase lasts; 0: not known
	open    bool             // it is one of the valve open
	shut    time.Duration    // how long the phase before it was; 0: not known
	leaves  float64          // what 10^-pH lost in it, an hour; 0: not known
	last    cycles           // within Memory
	stepped aquarium.Instant // when the gas last changed at once; 0: not within Memory
	shift   heldShift
	turn    turn // of the pH, where no switch tells
}

// nightless reports whether a tank may be dosed by day and night.
func nightless(part *aquarium.CO2) bool {
	return part != nil && part.Target > 0 && (part.Hours == nil || part.Hours.From == part.Hours.To)
}

// followCycles looks on each minute whether the valve has opened or shut; where no
// switch tells, whether the pH has turned.
func (t *tank) followCycles(v *view, s *series) {
	part := t.config.Equipment.CO2
	if !nightless(part) {
		return
	}
	c, handled := &t.dosing.cycling, max(t.dosing.disturbed, t.calibrations.at)
	if part.Valve == "" {
		if x := &c.turn; x.follow(v.now, s.value(), part.Band) {
			c.follow(x.falls, x.since, handled, func(aquarium.Instant) (float64, bool) { return x.slope, x.known })
		}
	} else if open, known := t.on(part.Valve, v.now); known {
		since := t.sensor(part.Valve).since
		c.follow(open, since, handled, func(from aquarium.Instant) (float64, bool) { return phase(s, from, since) })
	}
}

// turn follows a pH to and fro, where that is all that shows of the valve: from turn to
// turn, by the chord. It goes on falling for some minutes after the valve has shut. Where
// its phases are not much longer than that, it says less of a change than there is.
type turn struct {
	seen     aquarium.Instant // the last look
	from, to aquarium.Instant // for how long it has been at the highest or lowest since it last turned
	value    float64          // that
	since    aquarium.Instant // when it turned to go as it does; 0: not known
	then     float64          // the pH it turned at
	falls    bool
	slope    float64 // of 10^-pH from the turn before to that one, an hour
	known    bool    // it is
}

// follow takes in the pH of a minute: half of the hysteresis back is a turn.
func (x *turn) follow(now aquarium.Instant, v, band float64) (turned bool) {
	if now.Sub(x.seen) > pulse {
		*x = turn{from: now, value: v}
	}
	x.seen = now
	switch {
	case v == x.value:
		x.to = now
	case x.falls == (v < x.value): // it goes on
		x.from, x.to, x.value = now, now, v
	case math.Abs(v-x.value) >= max(turnBack, band):
		at := x.from + (x.to-x.from)/2
		if x.known = x.since != 0; x.known {
			x.slope = (math.Pow(10, -x.value) - math.Pow(10, -x.then)) / at.Sub(x.since).Hours()
		}
		x.since, x.then, x.falls = at, x.value, !x.falls
		x.from, x.to, x.value = now, now, v
		return true
	}
	return false
}

// follow takes in since when the valve is as it is; slope is that of the phase that has
// ended.
func (c *cycling) follow(open bool, since, disturbed aquarium.Instant, slope func(from aquarium.Instant) (float64, bool)) {
	if since == c.of { // as nearly always
		return
	}
	from, was := c.of, c.open
	c.of, c.open = since, open
	if from == 0 || open == was || from < disturbed.Add(cycleSettle) {
		c.shut, c.leaves = 0, 0
		return
	}
	lasted := since.Sub(from)
	steep, ok := slope(from)
	if open { // it was shut
		c.shut, c.leaves = lasted, 0
		if ok && lasted < night {
			c.leaves = -steep
		}
		return
	}
	x := cycle{at: since, open: lasted, whole: lasted + c.shut}
	comes := c.leaves * float64(x.whole) / float64(x.open)
	if x.open > c.shut {
		if comes = 0; ok && lasted < night {
			comes = steep * float64(x.whole) / float64(c.shut)
		}
	}
	if comes > 0 && c.shut > 0 {
		x.gas = math.Log10(comes)
		c.take(x)
	}
	c.shut, c.leaves = 0, 0
}

// phase is the slope of 10^-pH over a phase of the valve, or the end of it, an hour, once
// it shows.
func phase(s *series, from, to aquarium.Instant) (slope float64, ok bool) {
	over := to.Sub(from) - rampMixing
	if over < phaseLeast {
		return 0, false
	}
	ps := s.held(to, min(over, rampMost))
	var hours, acid []float64
	for i := 0; i < len(ps); i += max(1, len(ps)/phasePoints) {
		hours, acid = append(hours, ps[i].at.Sub(from).Hours()), append(acid, math.Pow(10, -ps[i].v))
	}
	r, ok := statistic.Regress(hours, acid)
	return r.Slope, ok && len(hours) >= plateauLeast
}

// take takes a cycle in.
func (c *cycling) take(x cycle) {
	kept := c.last.since(x.at.Add(-Memory))
	c.last = append(append(make(cycles, 0, len(kept)+1), kept...), x)
	if at, ok := c.last.step(); ok {
		c.stepped = at
	} else if c.stepped != 0 && x.at.Sub(c.stepped) > Memory {
		c.stepped = 0
	}
}

// since is those that were over after then.
func (cs cycles) since(then aquarium.Instant) cycles {
	for len(cs) > 0 && cs[0].at <= then {
		cs = cs[1:]
	}
	return cs
}

// until is those that were over by then.
func (cs cycles) until(then aquarium.Instant) cycles {
	n := len(cs)
	for n > 0 && cs[n-1].at > then {
		n--
	}
	return cs[:n]
}

// step reports whether the gas changed at once, the newest stepCycles being the first
// to show it, and when.
func (cs cycles) step() (at aquarium.Instant, ok bool) {
	n := len(cs) - stepCycles
	if n < stepCycles {
		return 0, false
	}
	before := cs[n-stepCycles : n].gas()
	after := cs[n:].gas()
	apart := cs[n+stepCycles/2].at.Sub(cs[n-1-stepCycles/2].at)
	least := stepLeast + stepPerDay*apart.Hours()/24
	if math.Abs(after-before) < least { // as nearly always
		return 0, false
	}
	return cs[n-1].at, math.Abs(after-before) >= stepTimes*cs.scatter()
}

// scatter is how far cycles lie apart by chance, from each to the next: so no change that
// lasts counts for much.
func (cs cycles) scatter() float64 {
	steps := make([]float64, len(cs)-1)
	for i := range steps {
		steps[i] = math.Abs(cs[i+1].gas - cs[i].gas)
	}
	return statistic.Median(steps) * statistic.Normal / math.Sqrt2
}

// gas is how fast it comes by them.
func (cs cycles) gas() float64 {
	vs := make([]float64, len(cs))
	for i, c := range cs {
		vs[i] = c.gas
	}
	return statistic.Median(vs)
}

// share is the valve's, as its logarithm.
func (cs cycles) share() float64 {
	var open, whole time.Duration
	for _, c := range cs {
		open, whole = open+c.open, whole+c.whole
	}
	return math.Log10(float64(open) / float64(whole))
}
