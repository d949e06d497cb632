package detect

import (
	"math"
	"time"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// Once what a valve had let in has mixed, the pH near its target turns and rises, for more
// gas leaves than is breathed out. One that goes on down instead gets gas, however little:
// a valve that leaks half of its flow may let it fall by no more than a tenth an hour. Told
// within twenty minutes of the command, that is a line through what is left of them, which
// must fall by more than its own error explains; noise makes four of those once in tens of
// thousands of looks, and a pH that rises, as it should, hardly ever. It falls to the last, for what still mixes does so less and less. Common practice,
// no source.
const (
	runsOnLeast   = 7 * time.Minute
	runsOnOn      = time.Minute // so much of it has been seen by then already
	runsOnErrors  = 4
	inflationMost = 0.9
	runsOnFall    = 0.012 // pH from its first third to its last
	runsOnShare   = 0.3   // of which lies between the last two, at the least
	runsOnTurns   = 2     // times as late as the pH usually turns, at the least
	runsOnMixes   = 6 * time.Minute
	// One that is read in steps of a twentieth makes no line. By then it has read its
	// lowest, and a step under that is water. What moves by more at once is a calibration,
	// and where the steps are finer, by so much.
	lowerBy    = 0.03 // pH
	lowerFor   = time.Minute
	lowerLeast = 2 // readings
	lowerOver  = 15 * time.Minute
)

// runsOnLooks are for how long it is looked at, and by how much an hour it falls at the
// least: a meter's noise hides within a quarter of an hour what shows within half of one.
var runsOnLooks = [...]struct {
	over  time.Duration
	slope float64
}{{15 * time.Minute, -0.06}, {30 * time.Minute, -0.045}}

// lowerSince is since when it may have come to be lower: on the edge between two of its
// steps a pH that falls slowly reads now the one and now the other for long.
var lowerSince = [...]time.Duration{10 * time.Minute, 30 * time.Minute}

// runsOn reports whether the pH, near its target, has not turned since the valve shut but
// goes on down.
func (g *gas) runsOn(v *view, t *tank) bool {
	if !t.haveShut || v.now.Sub(t.shutAt) < runsOnLeast || g.value >= g.part.Target+g.part.Band || t.visited {
		return false
	}
	most := v.now.Sub(t.shutAt) - t.turnsAfter()
	for i, x := range runsOnLooks {
		if i > 0 && most <= runsOnLooks[i-1].over {
			break
		}
		if g.goesOnDown(v, t, min(x.over, most), x.slope) {
			return true
		}
	}
	return false
}

// goesOnDown reports whether it has come down for so long, by so much an hour, and to the
// last.
func (g *gas) goesOnDown(v *view, t *tank, over time.Duration, least float64) bool {
	if over < runsOnLeast {
		return false
	}
	if then, ok := g.ph.at(v.now.Add(-over)); !ok || then-g.value < runsOnFall/2 { // as nearly always
		return false
	}
	if !g.leftAlone(v, t, over+t.turnsAfter()) || t.mayBeLate() || t.doubt.slackens() || g.ph.sudden(v.now, t.doubt.rough) {
		return false
	}
	ps := g.ph.held(v.now, over)
	n := len(ps) / 3
	if n < 2 || ps[len(ps)-1].at.Sub(ps[0].at) < over*3/4 || stepped(ps) {
		return false
	}
	first, middle, last := mean(ps[:n]), mean(ps[n:len(ps)-n]), mean(ps[len(ps)-n:])
	if first-last < runsOnFall || middle-last < runsOnShare*(first-last) {
		return false
	}
	slope, sure := goes(ps, runsOnErrors)
	return sure && slope <= least
}

// goes is by how much a line through the points goes, an hour, and whether that is more
// than so many of its errors.
func goes(ps []point, errors float64) (slope float64, sure bool) {
	var hours, vs []float64
	for _, p := range ps {
		hours, vs = append(hours, p.at.Sub(ps[0].at).Hours()), append(vs, p.v)
	}
	r, ok := statistic.Regress(hours, vs)
	if slope = math.Abs(r.Slope); !ok || slope <= errors*r.SlopeSE {
		return r.Slope, false
	}
	for i, x := range hours {
		vs[i] -= r.Intercept + r.Slope*x
	}
	return r.Slope, slope > errors*r.SlopeSE*inflation(vs)
}

// inflation is by how much an error reckoned as of independent readings is too small where
// what they err by lasts: sqrt((1+r)/(1-r)), with r what it is like one reading later (any
// textbook), which few readings about their own line show too little of (Marriott & Pope
// 1954, from memory).
func inflation(rest []float64) float64 {
	r := statistic.Autocorrelation(rest, 1)
	r = min(max(0, r+(1+4*r)/float64(len(rest))), inflationMost)
	return math.Sqrt((1 + r) / (1 - r))
}

// turnsAfter is how long after the valve has shut the pH of this tank has turned.
func (t *tank) turnsAfter() time.Duration {
	m := &t.lateMemo
	if !m.holds(t.learned, 0) {
		*m = memo{of: t.learned}
		if usual, ok := t.learned.Lateness.usual(); ok {
			m.v, m.n = usual, 1
		}
	}
	if m.n > 0 && t.lateSince() == 0 {
		return min(t.mixing(), max(runsOnMixes, time.Duration(runsOnTurns*m.v*float64(time.Minute))))
	}
	return t.mixing()
}

// lowers reports whether the pH, near its target and with the valve shut, reads lower than
// when it should have turned, or than it has since.
func (g *gas) lowers(v *view, t *tank) bool {
	if !t.haveShut || g.value >= g.part.Target+g.part.Band || t.visited {
		return false
	}
	turned := t.shutAt.Add(t.turnsAfter())
	for _, since := range lowerSince {
		if v.now.Sub(turned) < lowerFor {
			return false
		}
		border := max(turned, v.now.Add(-since))
		from := max(t.shutAt.Add(t.turnsAfter()/2), border.Add(-lowerOver))
		if g.lowerThan(v, from, border) && !t.mayBeLate() && g.leftAlone(v, t, v.now.Sub(from)) {
			return true
		}
	}
	return false
}

// lowerThan reports whether the last readings are lower than between the two.
func (g *gas) lowerThan(v *view, from, border aquarium.Instant) bool {
	if then, ok := g.ph.at(border); !ok || then-g.value < lowerBy/2 { // as nearly always
		return false
	}
	before, after := g.ph.held(border, border.Sub(from)), g.ph.held(v.now, max(lowerFor, 2*g.ph.interval()))
	if len(before) < lowerLeast || len(after) < lowerLeast {
		return false
	}
	if _, high := extremes(after); high > mean(before)-lowerBy {
		return false
	}
	ps := g.ph.held(v.now, v.now.Sub(from))
	return !leaps(ps, calibrationStep) && (inSteps(ps) || !stepped(ps))
}

// inSteps reports whether the points lie no nearer to each other than lowerBy.
func inSteps(ps []point) bool {
	for i := 1; i < len(ps); i++ {
		if by := math.Abs(ps[i].v - ps[i-1].v); by > 0 && by < lowerBy {
			return false
		}
	}
	return true
}

// leaps reports whether two of the points that follow each other lie so far apart.
func leaps(ps []point, by float64) bool {
	for i := 1; i < len(ps); i++ {
		if math.Abs(ps[i].v-ps[i-1].v) >= by {
			return true
		}
	}
	return false
}
