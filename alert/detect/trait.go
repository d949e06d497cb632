package detect

import (
	"math"

	"lentic/alert/statistic"
)

// Trait is one of what the mornings of a tank have come to (drift.go, held.go), in pH or as
// a logarithm: what is usual of it, and how far one lies from the next.
type Trait struct {
	First []float64 `json:"first,omitempty"` // of the mornings it was learned from
	Base  float64   `json:"base"`            // what is usual
	Steps float64   `json:"steps"`           // how far a morning usually lies from the one before
	Kept  bool      `json:"kept,omitempty"`  // that was known before the probe was last handled
	Prior float64   `json:"prior"`           // the last one
	N     int       `json:"n"`
}

const (
	traitDays    = 7       // what is usual is the median of so many mornings, and then follows
	traitLeast   = 3       // so many must be known
	followsUp    = 1. / 90 // of the way, a morning
	followsDown  = 1. / 30
	stepsSmooth  = 0.1
	stepsToSD    = 1 / 1.128 // of the mean step of independent normal values (Shewhart's d2 for two)
	traitLeastSD = 0.005     // half a step of a usual pH meter
)

// take takes a morning in; up is how far it lies on the side of a probe that
// reads high.
func (x *Trait) take(v, up float64) {
	if x.N > 0 {
		step := math.Abs(v - x.Prior)
		switch {
		case x.N > traitDays:
			x.Steps += stepsSmooth * (step - x.Steps)
		case !x.Kept: // else a drift that begins within these days would pass for noise
			x.Steps += (step - x.Steps) / float64(x.N)
		}
	}
	x.Prior = v
	if x.N++; x.N <= traitDays {
		x.First = append(append([]float64(nil), x.First...), v)
		x.Base = statistic.Median(append([]float64(nil), x.First...))
		return
	}
	x.First = nil // learned
	follows := followsUp
	if up < 0 {
		follows = followsDown
	}
	x.Base += follows * (v - x.Base)
}

// move moves what is usual by what is known to have changed.
func (x *Trait) move(by float64) {
	if by == 0 {
		return
	}
	x.Base += by
	x.Prior += by
	first := make([]float64, len(x.First))
	for i, v := range x.First {
		first[i] = v + by
	}
	x.First = first
}

// anew is a trait that is learned again, of which it is known how far mornings lie apart:
// that is the tank's, whatever the probe reads.
func (x *Trait) anew() Trait {
	if x.N <= traitLeast && !x.Kept {
		return Trait{}
	}
	return Trait{Steps: x.Steps, Kept: true}
}

// sd is how far mornings lie from what is usual.
func (x *Trait) sd() float64 { return max(traitLeastSD, x.Steps*stepsToSD) }
