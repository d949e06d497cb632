package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// A current that leaks into the water moves an electrode whenever its load is
// switched, to and fro and each time by the same. Where the load's own switch is
// seen, the screen knows it by that; else by the steps: water makes none that lie
// level on both sides. Three each way within half a day, all of one size, are no
// calibration and no visit. Common practice, no source.
const (
	hopLeast  = 0.1  // pH; half the last place of noise is far from it
	hopLevel  = 0.03 // on both sides
	hopSame   = 0.4  // of its size
	hopTimes  = 3    // each way
	hopsOver  = 12 * time.Hour
	hopsEnd   = 6 * time.Hour
	hopAfter  = 3 // minutes that must lie level
	hopBefore = 3
)

// hops follows steps of a pH to and fro.
type hops struct {
	ups, downs  int
	size        float64
	first, last aquarium.Instant
	since       aquarium.Instant // of the first of those that are told; 0: none are
}

// follow looks at the pH of the last minutes, the newest first.
func (x *hops) follow(at aquarium.Instant, v float64, ago []float64, visited bool) {
	if x.last != 0 && at.Sub(x.last) > hopsEnd || visited {
		*x = hops{}
	}
	step, ok := stepOf(v, ago)
	if !ok || x.last != 0 && at.Sub(x.last) < (hopAfter+1)*time.Minute {
		return
	}
	up := step > 0
	if step = math.Abs(step); x.size == 0 || math.Abs(step-x.size) > hopSame*x.size || at.Sub(x.first) > hopsOver && x.since == 0 {
		*x = hops{size: step, first: at, last: at}
	}
	x.last = at
	if up {
		x.ups++
	} else {
		x.downs++
	}
	if x.since == 0 && x.ups >= hopTimes && x.downs >= hopTimes {
		x.since = x.first
	}
}

// lately is by how much the pH has stepped within that time, 0 where it has not.
func (x *hops) lately(at aquarium.Instant, over time.Duration) float64 {
	if x.last == 0 || at.Sub(x.last) > over {
		return 0
	}
	return x.size
}

// stepOf is a step that lies level on both sides, and has just done so for long
// enough.
func stepOf(v float64, ago []float64) (float64, bool) {
	if len(ago) < hopAfter+hopBefore+1 {
		return 0, false
	}
	after, spreadAfter := levelOf(v, ago[:hopAfter-1])
	before, spreadBefore := levelOf(ago[hopAfter+1], ago[hopAfter+2:hopAfter+1+hopBefore])
	step := after - before
	return step, math.Abs(step) >= hopLeast && max(spreadAfter, spreadBefore) <= hopLevel
}

func levelOf(v float64, others []float64) (middle, spread float64) {
	low, high := v, v
	for _, x := range others {
		low, high = min(low, x), max(high, x)
	}
	return (low + high) / 2, high - low
}

// leewayMost is the most that a current is given leeway for: with another 0.2 pH under
// the target that is more than twice the gas the controller means to hold, which is told
// whatever moves the electrode.
const leewayMost = 0.15

// leeway is by how much the pH may be lower than the water's for a current that moves the
// electrode, or the water's own for a controller that goes by what it reads then.
func (t *tank) leeway() float64 { return min(leewayMost, t.stray) }

// strays is by how much a current is known to move the tank's pH; 0: none is.
func (t *tank) strays() float64 {
	by := 0.0
	if x := &t.doubt.hops; x.since != 0 {
		by = x.size
	}
	if t.pH != nil {
		if _, step, ok := t.screen.Stepping(t.pH.config.ID); ok {
			by = max(by, math.Abs(step))
		}
	}
	return by
}
