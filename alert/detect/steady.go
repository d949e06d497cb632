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
	steadyRises  = 2.5  // mm
	steadyFirst  = 0.27 // of the rise, from the first third to the second: a line's is a third
	steadyErrors = 1.5  // standard errors of the slope, by which it is less
	steadyJump   = 6.0  // variances of the noise
	// Before it the level has not fallen by more, give or take six standard deviations.
	steadyBefore = 20 * time.Minute
	steadyLay    = 2.5 // mm
	steadyNoises = 6.0
)

// climbsSteadily is the noise of a level that has climbed for minutes, surely by less than so
// many mm/h, and what it did before that; false where it has not.
func (t *tank) climbsSteadily(ps []point, interval time.Duration, slow float64) (before []point, noise float64, ok bool) {
	from := ps[len(ps)-1].at.Add(-max(steadyFor, steadyReads*interval))
	earlier := from.Add(-steadyBefore)
	if interval > seepFor/3 || from < ps[0].at || t.vessel.stirred > earlier {
		return nil, 0, false
	}
	before, climb := ps[within(ps, earlier):within(ps, from)], ps[within(ps, from-1):]
	rise, steady := thirds(climb)
	if n := len(climb) / 3; !steady || rise < steadyRises || mean(climb[n:2*n])-mean(climb[:n]) < steadyFirst*rise { // it began later, and is steeper
		return nil, 0, false
	}
	h, late := hingeOf(climb, climb[0].at), climb[len(climb)/2:]
	noise = max(leastNoise, t.errs(waverLong), math.Sqrt(h.rest/float64(len(climb)-2)))
	if h.perHour+steadyErrors*noise/math.Sqrt(h.spread) > slow || h.rest > jumpedIn([][]point{climb})-steadyJump*noise*noise {
		return nil, 0, false
	}
	return before, noise, hingeOf(late, late[0].at).perHour < slow
}

// seepsSteadily reports whether a level climbs for minutes by less than a pump brings that runs.
func (t *tank) seepsSteadily(ps []point, interval time.Duration) bool {
	perMM, _ := t.perMM()
	before, noise, ok := t.climbsSteadily(ps, interval, creepShare*t.topOff().RateLH/perMM)
	return ok && t.vessel.machines <= ps[len(ps)-1].at.Add(-steadyFor-steadyBefore) && deepest(before) < max(steadyLay, steadyNoises*noise)
}

// A hose that has come off beside a top-off that holds against it: the level has run down to
// its lower end within minutes, and comes up again by less than half of what the pump brings.
const (
	againstShare = 0.5
	againstFell  = 4.0 // mm, or six standard deviations
)

// lostAgainst is what leaves while a top-off that no switch tells of brings more, l/h.
func (t *tank) lostAgainst(v *view) (litresH float64, ok bool) {
	s, rate := t.level, t.topOff().RateLH
	if _, known := t.on(t.topOff().Pump, v.now); known || rate <= 0 {
		return 0, false
	}
	perMM, assumed := t.perMM()
	slow := againstShare * rate / perMM
	was, seen := s.at(v.now.Add(-steadyFor))
	if rise := s.value() - was; !seen || assumed || rise < steadyRises/2 || rise > slow*steadyFor.Hours()+againstFell {
		return 0, false // as nearly always
	}
	ps := s.window(v.now, max(steadyFor, steadyReads*s.interval())+steadyBefore+s.interval())
	before, noise, ok := t.climbsSteadily(ps, s.interval(), slow)
	if !ok {
		return 0, false
	}
	fell := deepest(before)
	return (1 - againstShare) * rate, fell >= max(againstFell, steadyNoises*noise) && !leapsDown(before, fell)
}
