package detect

import (
	"math"
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// What has a tank's pH doubted besides how it moves, and what proves it again.

// doubtPH follows the tank's pH: all that comes of it, for what the screen holds
// back is what there is to doubt.
func (t *tank) doubtPH(v *view) {
	s, _, ok := t.acidSeries()
	switch {
	case !ok:
	case !s.lasts(s.heard, v.now):
		t.doubt.n, t.doubt.silent = 0, s.hand.n
	case s.hand.n < len(s.hand.last):
		t.doubt.n = 0
	case t.doubt.n == 0 && s.hand.n == t.doubt.silent+1: // the middle of three is one from before the gap
	default:
		raw := s.hand.value()
		if s.config.OnChange && v.now.Sub(s.hand.at) >= holdsAfter { // no spike: it would have been taken back
			raw = s.hand.newest()
		}
		t.doubt.rough += roughShare * (min(roughMost, s.hand.bend()) - t.doubt.rough)
		if t.doubt.rough < roughIs {
			t.doubt.wildly = 0
		} else if t.doubt.wildly == 0 {
			t.doubt.wildly = v.now
		}
		t.calibrations.follow(v.now, raw, t.visited)
		if k := t.learned.Drift; k != nil && k.Plateau.N >= traitLeast {
			t.doubt.night = k.Plateau.Base
		}
		if t.changing(v) {
			t.doubt.lifted = 0
		}
		t.doubt.follow(v.now, raw, t.visited, t.gasIs(v))
	}
}

// gasIs is whether gas may have been let in within shutSince.
func (t *tank) gasIs(v *view) gasIs {
	part := t.config.Equipment.CO2
	if part == nil {
		return gasMayCome // by whatever
	}
	if on, known := t.on(part.Valve, v.now); known {
		if wasOn := t.sensor(part.Valve).wasOn; !on && (wasOn == 0 || v.now.Sub(wasOn) >= shutSince) {
			return gasShut
		}
	} else if part.Valve == "" && part.Hours != nil && !part.Hours.Contains(t.clock) && !part.Hours.Contains(earlier(t.clock, shutSince)) {
		return gasShut
	}
	return gasMayCome
}

// doubtVain doubts a pH again that was believed for its moving like water, and
// does not answer the gas. Where it was calibrated since, nothing is held against it.
func (t *tank) doubtVain(v *view) {
	d := &t.doubt
	if !d.unproven {
		return
	}
	if t.calibrated(v) > max(d.since, d.ended) {
		d.since, d.unproven = 0, false
		return
	}
	if d.since != 0 {
		return
	}
	g, ok := t.gasOf(v)
	if !ok {
		return
	}
	switch {
	case t.unanswered(v, &g):
		d.start(t.dosing.asked, g.value, g.value)
		d.shorted, d.vain = false, true
	case t.proven(&g):
		d.unproven = false
	}
}

// unproved reports whether the pH is believed for no more than having moved as water
// may, or moves by a current too: what it says against a valve or a cylinder would send
// somebody to one that is sound.
func (t *tank) unproved() bool { return t.doubt.unproven || t.stray >= hopLeast }

// proven reports whether the pH has answered the gas since it was last doubted: of
// a morning nearly as quickly as is usual, or, where that is not known, at all.
func (t *tank) proven(g *gas) bool {
	d := &t.dosing
	if k := t.learned.Drift; k != nil && k.Mornings >= traitLeast {
		return d.morning.At > t.doubt.ended && math.Abs(d.morning.Rate-k.Rate.Base) < provenRate
	}
	return d.asked != 0 && d.from-g.value >= vainEnds
}

// inBuffers reports whether the pH went where no tank is and has been at rest for
// some minutes in what may be one, for no longer than most: somebody calibrates it.
func (d *doubt) inBuffers(at aquarium.Instant, most time.Duration) bool {
	ps := d.last[:bufferCalm/time.Minute]
	return d.since != 0 && at.Sub(d.since) <= most && d.far >= bufferAway && d.calm != 0 && at.Sub(d.calm) >= bufferCalm && slices.Max(ps)-slices.Min(ps) <= bufferRest &&
		d.last[0] >= leastWaterPH && d.last[0] <= mostWaterPH && (math.Abs(d.last[0]-shortedAt) > shortedNear || at.Sub(d.buffer) < bufferBack)
}

// doubted reports whether the pH is not to be believed: nothing is told from it
// then but that.
func (t *tank) doubted() bool { return t.doubt.since != 0 }

// wild reports whether the pH has gone up and down as no water does for long enough.
func (d *doubt) wild(at aquarium.Instant) bool { return d.wildly != 0 && at.Sub(d.wildly) >= wildFor }

// scatters reports whether the pH goes up and down as no water does, or may be about
// to be found to.
func (t *tank) scatters() bool { return t.doubt.rough >= roughMay }
