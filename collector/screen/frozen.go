package screen

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// run follows how long a sensor repeats a value.
type run struct {
	V     float64          `json:"v"`
	From  aquarium.Instant `json:"from,omitempty"`
	N     int              `json:"n"`
	Since aquarium.Instant `json:"since,omitempty"` // when learning began
	Runs  int              `json:"runs"`            // that have ended
	// Longest is the longest run of this fortnight, in ms, and of the one
	// before.
	Longest   [2]aquarium.Instant `json:"longest"`
	Fortnight aquarium.Instant    `json:"fortnight,omitempty"`
	Frozen    bool                `json:"frozen,omitempty"`
}

// A value is frozen once it has been repeated for beyond times the longest run
// there has been. Runs of a sensor's own noise end with about equal chance at
// every reading, so their lengths fall off like an exponential distribution: of
// n runs the longest is about ln n times the mean, and one beyond three times
// that has a chance of 1/n^3. With leastRuns that is one run in a million.
const (
	beyond     = 3
	leastRuns  = 100
	leastN     = 10 // readings
	leastStand = aquarium.Instant(10 * time.Minute / time.Millisecond)
	// Water in the tank is never still for long: its thermometer and
	// electrode are known after a day. So is a sensor whose noise is more
	// than its resolution hides, noisy steps of it. Any other may stand
	// untouched from one weekly change to the next, and repeat itself more
	// at one level than at another.
	knownSoon = 24 * time.Hour
	knownLate = 7 * 24 * time.Hour
	noisy     = 1.9
	fortnight = 14 * 24 * time.Hour
)

// stands takes in a value and reports whether it is frozen.
func (r *run) stands(p *plan, u *usual, v float64, at aquarium.Instant) bool {
	if r.Since == 0 {
		r.Since, r.Fortnight, r.V, r.From, r.N = at, at, v, at, 1
		return false
	}
	if v != r.V {
		r.end(math.Abs(v-r.V) > 2.5*u.Grain, at)
		r.V, r.From, r.N, r.Frozen = v, at, 1, false
		return false
	}
	r.N++
	if r.N < leastN || r.Runs < leastRuns || mayRest(p.quantity, v) {
		return false
	}
	known := knownLate
	if p.water || u.Far >= noisy*u.Grain {
		known = knownSoon
	}
	stood := at - r.From
	r.Frozen = r.From.Sub(r.Since) >= known && stood >= leastStand && stood > beyond*max(r.Longest[0], r.Longest[1])
	return r.Frozen
}

// end learns from a run: also from one that was taken for frozen, if it went on by
// a step of the resolution, as still water does, and not by a jump, as a sensor
// that works again.
func (r *run) end(jump bool, at aquarium.Instant) {
	if r.Frozen && jump {
		return
	}
	r.Runs++
	if at.Sub(r.Fortnight) >= fortnight {
		r.Longest[1], r.Longest[0], r.Fortnight = r.Longest[0], 0, at
	}
	r.Longest[0] = max(r.Longest[0], at-r.From)
}

// mayRest reports whether v is where a quantity comes to rest by its nature:
// nothing flows, nothing is there, and ice in water keeps it at 0 Cel.
func mayRest(q aquarium.Quantity, v float64) bool {
	switch q {
	case aquarium.Flow, aquarium.Volume, aquarium.Power, aquarium.Gas, aquarium.Pressure, aquarium.Mass, aquarium.Number:
		return v == 0
	case aquarium.Temperature:
		return math.Abs(v) <= 0.1
	}
	return false
}
