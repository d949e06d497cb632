package detect

import (
	"math"
	"time"
)

// A level that comes up from its lower end may be topped off. A pump that is known to bring
// three times as much as comes in shows that by its pace: a line through some minutes of
// the climb is surely less steep, and so is its later half; it fits clearly better than one
// jump, as what a quick pump brings within a minute or two looks like, and goes on from end
// to end. Water that ran down to there in minutes before may be lost nearly as fast as the
// pump brings it. Common practice, no source.
const (
	steadyFor    = 8 * time.Minute // a jump of three millimetres in there is steeper than most pumps' creepShare
	steadyReads  = 9
	steadyRises  = 2.5 // mm
	steadyErrors = 1.5 // standard errors of the slope: it is surely climbing already
	steadyJump   = 6.0 // variances of the noise
	// Before it the level has not fallen by more, give or take six standard deviations.
	steadyBefore = 20 * time.Minute
	steadyLay    = 2.5 // mm
	steadyNoises = 6.0
)

// seepsSteadily reports whether a level climbs for minutes by less than a pump brings that runs.
func (t *tank) seepsSteadily(ps []point, interval time.Duration) bool {
	from := ps[len(ps)-1].at.Add(-max(steadyFor, steadyReads*interval))
	earlier := from.Add(-steadyBefore)
	if interval > seepFor/3 || from < ps[0].at || t.vessel.machines > earlier || t.vessel.stirred > earlier {
		return false
	}
	before, climb := ps[within(ps, earlier):within(ps, from)], ps[within(ps, from-1):]
	rise, steady := thirds(climb)
	if !steady || rise < steadyRises {
		return false
	}
	perMM, _ := t.perMM()
	slow := creepShare * t.topOff().RateLH / perMM
	h, late := hingeOf(climb, climb[0].at), climb[len(climb)/2:]
	noise := max(leastNoise, t.errs(waverLong), math.Sqrt(h.rest/float64(len(climb)-2)))
	return h.perHour+steadyErrors*noise/math.Sqrt(h.spread) < slow && hingeOf(late, late[0].at).perHour < slow &&
		h.rest < jumpedIn([][]point{climb})-steadyJump*noise*noise && deepest(before) < max(steadyLay, steadyNoises*noise)
}
