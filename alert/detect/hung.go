package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// A float that hangs reads like one that does not: what it says has its noise, and
// the top-off, which goes by it, is never called for. Only the air shows it, which
// goes on taking water that is not missing. From day to day that differs by a factor
// of two, so six tenths of what is usual are sure to go: what by that should have come down
// by four millimetres, and by ten-minute means has not by half of one, is no level. A
// tank that somebody has covered looks the same, and so this is told as what can wait
// for the morning. Common practice, no source.
const (
	hungShare = 0.6 // of what usually evaporates
	hungLeast = 4.0 // mm
	hungSteps = 3.0 // or so many steps of the sensor
	hungMoves = 0.5 // mm, beyond what chance makes of the lowest and of the highest
	hungError = 0.5 // mm, the most that a mean may be wrong by; else it is one with those just before it
	hungMeans = 6   // of them at the most
	hungGap   = 2 * time.Hour
	hungDoubt = 1.0 // mm, and the day tells nothing of the air
	// One that still moved a little before it hung is beyond half a millimetre a day later,
	// by its noise, and had stood for nearly all of that: so what began by this later is
	// followed besides.
	hungLater = 6 * time.Hour
)

// hung follows for how long a level has stood.
type hung struct {
	stand
	later stand            // begun a while after it, and taken instead once it is known to have moved since
	last  aquarium.Instant // the last ten minutes that are known; 0: none
	moved aquarium.Instant // when it last moved; 0: that was never seen
	fresh bool             // the last ten minutes have yet to be added to what the air has taken
	poor  poor
}

// stand is a time in which a level has stood.
type stand struct {
	since     aquarium.Instant // the first ten minutes that are known; 0: none
	low, high float64          // of the means since then
	due       float64          // what the air has taken since then at the least, l
}

// poor is means that one by one are too rough to tell anything, of which some together do.
type poor struct {
	at    aquarium.Instant // the newest
	n     int
	mm    float64 // their sum
	wrong float64 // the most that one may be wrong by
}

// take adds a mean, and returns that of all and what that may be wrong by.
func (r *poor) take(at aquarium.Instant, mm, wrong float64) (float64, float64) {
	if r.n == hungMeans || at.Sub(r.at) > hungMeans*blockLong {
		*r = poor{}
	}
	r.at, r.n, r.mm, r.wrong = at, r.n+1, r.mm+mm, max(r.wrong, wrong)
	n := float64(r.n)
	return r.mm / n, r.wrong / math.Sqrt(n)
}

// take adds a mean and what it may be wrong by.
func (x *hung) take(at aquarium.Instant, mm, wrong float64) {
	if wrong > hungError {
		if mm, wrong = x.poor.take(at, mm, wrong); wrong > hungError {
			return
		}
	}
	x.poor = poor{}
	switch stands, later := x.holds(mm, wrong), x.later.holds(mm, wrong); {
	case x.since == 0 || at.Sub(x.last) > hungGap:
		x.stand, x.later, x.fresh = begun(at, mm, wrong), stand{}, false
	case stands:
		x.fresh = true
		if !later && at.Sub(x.since) >= hungLater {
			x.later = begun(at, mm, wrong)
		}
	case later:
		x.stand, x.later, x.moved, x.fresh = x.later, stand{}, at, true
	default:
		x.stand, x.later, x.moved, x.fresh = begun(at, mm, wrong), stand{}, at, false
	}
	x.last = at
}

func begun(at aquarium.Instant, mm, wrong float64) stand {
	return stand{since: at, low: mm + wrong, high: mm - wrong}
}

// holds reports whether the level still stands, by a mean and what it may be wrong by.
func (x *stand) holds(mm, wrong float64) bool {
	if x.since == 0 {
		return false
	}
	low, high := min(x.low, mm+wrong), max(x.high, mm-wrong)
	if high-low > hungMoves {
		return false
	}
	x.low, x.high = low, high
	return true
}

// follow adds what the air takes, and begins anew when water is brought in: that may
// hold a level within half a millimetre. Hands and changes move it, and need no look.
func (x *hung) follow(t *tank, v *view, before aquarium.Instant) {
	if t.vessel.pumped == v.now || t.level != nil && t.level.current(v.now) && t.tops(v) {
		x.since = 0
		return
	}
	if !x.fresh {
		return
	}
	x.fresh = false
	if air, learned := t.evaporation(v); learned {
		took := hungShare * air * x.last.Sub(before).Hours()
		x.due += took
		if x.later.since != 0 && x.later.since < x.last {
			x.later.due += took
		}
	}
}

// is reports whether the level stands though water must have gone.
func (x *hung) is(t *tank) bool {
	step := t.vessel.step
	return step > 0 && x.missing(t) >= max(hungLeast, hungSteps*step)
}

// missing is how far the level should have gone down since it stands, mm.
func (x *hung) missing(t *tank) float64 {
	perMM, _ := t.perMM()
	if x.since == 0 {
		return 0
	}
	return x.due / perMM
}
