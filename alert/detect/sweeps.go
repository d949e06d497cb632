package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// Where no switch tells, a controller with a hysteresis is known to ask for gas once the pH
// is over its band, and then asks for it until the pH is under it. A pH that has come under
// it each time, and now turns before that and rises, gets none though it is asked for: it
// need not come out of its band first, which takes an hour where gas leaves slowly. What a
// controller does itself it does each time: one that shuts its valve sooner than it is said
// to turns as soon on other occasions. Common practice, no source.
const (
	sweepOver   = 3 * time.Minute // of which the mean counts: a last digit makes no turn
	sweepEdge   = 0.01            // of a pH that turns as it comes to the band's edge
	sweepsKept  = 8
	sweepsFor   = 24 * time.Hour
	sweepsLeast = 3    // must have ended lower within that
	shortBy     = 0.01 // over the highest that it turns at: a last digit, once more
	shortErrors = 3.0  // of the mean's own, too
)

// errsInSweep is what the mean of a sweep's minutes errs by for the pH's own noise: the second
// difference of readings with a deviation s is sqrt(6)*s, and sqrt(2/pi) of that in the mean
// of its amounts (exact for the normal distribution).
func (t *tank) errsInSweep(interval time.Duration) float64 {
	n := 1.0
	if interval > 0 && interval < sweepOver {
		n = float64(sweepOver / interval)
	}
	return t.doubt.rough / (math.Sqrt(6) * math.Sqrt(2/math.Pi)) / math.Sqrt(n)
}

// sweeps follow a pH from above its band to below it.
type sweeps struct {
	last  [sweepsKept]sweep // the newest first
	from  aquarium.Instant  // when it was last at the band's upper edge or over it, before it came down; 0: the valve is not known to be open
	low   sweep             // the lowest since then
	whole bool              // it has been under the band since then
	short float64           // where it turned and went over the band again instead; 0: it has not
}

// sweep is the lowest that the pH came to in one, when, and by how much an hour until then.
type sweep struct {
	at      aquarium.Instant
	ph      float64
	perHour float64
}

// followSweeps follows them where no switch tells when gas is asked for.
func (t *tank) followSweeps(v *view, s *series) {
	part := t.config.Equipment.CO2
	if t.parts.valve != nil || part.Target <= 0 {
		return
	}
	if part.Hours != nil && !part.Hours.Contains(t.clock) {
		t.dosing.sweeps.from = 0
		return
	}
	t.dosing.sweeps.follow(s, v.now, part)
}

// follow takes in the pH of a minute.
func (x *sweeps) follow(s *series, at aquarium.Instant, part *aquarium.CO2) {
	ps := s.held(at, sweepOver)
	if len(ps) == 0 {
		return
	}
	ph := mean(ps)
	switch {
	case ph > part.Target+part.Band-sweepEdge:
		if x.from != 0 && !x.whole && x.low.ph < part.Target {
			x.short = x.low.ph
			return
		}
		if x.from != 0 && x.whole {
			copy(x.last[1:], x.last[:sweepsKept-1])
			x.last[0] = sweep{x.low.at, max(x.low.ph, x.short), x.low.perHour}
		}
		x.from, x.low, x.whole, x.short = at, sweep{at: at, ph: ph}, false, 0
	case x.from != 0 && ph < x.low.ph:
		x.low = sweep{at, ph, (part.Target + part.Band - ph) / at.Sub(x.from).Hours()}
		x.whole = x.whole || ph < part.Target-part.Band
	}
}

// turns is the highest that this sweep's pH turns at once it has come to the edge, false
// where too few are known: what of its gas is still under way by then takes it as much
// further as it falls faster.
func (x *sweeps) turns(now aquarium.Instant, edge float64) (ph float64, ok bool) {
	n := 0
	for _, low := range x.last {
		if low.at == 0 || now.Sub(low.at) > sweepsFor {
			continue
		}
		further := edge - low.ph
		if further > 0 && low.perHour > x.low.perHour {
			further *= x.low.perHour / low.perHour
		}
		ph = max(ph, edge-further)
		n++
	}
	return ph, n >= sweepsLeast
}

// turnsShort reports whether the pH has turned before its controller can have shut the
// valve, and risen ever since.
func (t *tank) turnsShort(v *view, g *gas) bool {
	x := &t.dosing.sweeps
	if x.from == 0 || x.whole || v.now.Sub(x.low.at) < vainOver || x.low.at <= t.calibrations.at || g.value < x.low.ph+vainAmple { // as nearly always
		return false
	}
	edge := g.part.Target - g.part.Band
	usual, ok := x.turns(v.now, edge)
	if !ok || x.low.ph < max(usual+shortBy+shortErrors*t.errsInSweep(g.ph.interval()), edge) {
		return false
	}
	rise := -g.fallen(v, vainOver)
	return rise > vainAmple && x.low.perHour > rise/vainOver.Hours() && evenly(g.ph.held(v.now.Floor(time.Minute), vainOver)) &&
		!t.mayBeLate() && t.doubt.hops.lately(v.now, vainOver) == 0 && !t.changedWithin(v, vainOver) && !t.usuallyThere(v, g)
}
