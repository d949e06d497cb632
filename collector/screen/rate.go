package screen

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// usual is how far apart a sensor's readings usually lie.
type usual struct {
	N     int     `json:"n"`     // steps learned from
	Far   float64 `json:"far"`   // 99 steps of 100 are smaller
	Mean  float64 `json:"mean"`  // of the steps' size, no step counted for more than Far
	Grain float64 `json:"grain"` // the smallest step seen: the resolution; 0: none yet
	Pace  float64 `json:"pace"`  // ms from reading to reading
	Tail  float64 `json:"tail"`  // how many times Far a step may be
	Wild  float64 `json:"wild"`  // share of the readings that are lone outliers
}

const (
	share = 0.99 // of the steps that are smaller than Far
	young = 100  // steps until Far is a quantile; before, it is what was largest lately
	gain  = 0.02 // of the stochastic approximation of the quantile (Robbins & Monro 1951)
)

// falseMarks is how many good readings a sensor may have marked in a year for
// being far, if steps beyond Far become rarer as fast as those of an exponential
// distribution do, which has longer tails than a normal one.
const falseMarks = 1

// swift is the interval, in ms, beyond which a lone reading may be real of all
// but water: a filter is stopped and started again, a container emptied.
const swift = float64(2 * time.Minute / time.Millisecond)

// leaving is how many times as far as a lone outlier two readings of a probe in
// the water lie for it to have left: that costs it more than one reading, so it
// is to be as rare as two such at once.
const leaving = 2

// learn takes in the size of a step. One that is far counts as much as one that
// is just beyond Far: so what is wrong moves little, and what happens more often
// than in one reading of a hundred becomes usual.
func (u *usual) learn(size, least float64) {
	u.N++
	if size > 0 && (u.Grain == 0 || size < u.Grain) {
		u.Grain = size
	}
	switch {
	case u.N <= young:
		u.Far = max(u.Far*0.97, min(1.5*size, 1.2*u.Far+least))
	case size > u.Far:
		u.Far *= 1 + gain*share
	default:
		u.Far *= 1 - gain*(1-share)
	}
	u.Mean += (min(size, u.Far) - u.Mean) / float64(min(u.N, 1000))
	if u.N%64 == 1 {
		u.Tail = tail(u.Pace)
	}
}

// tooWild is the share of outliers beyond which they are the sensor's noise: a bad
// contact may throw one reading in twenty off, and must not make that usual.
const tooWild = 0.15

// stray notes whether a reading is a lone outlier.
func (u *usual) stray(is bool) {
	if is {
		u.Wild += 1.0 / 128
	}
	u.Wild -= u.Wild / 128
}

// tail is how many times Far a step lies that comes falseMarks times a year.
func tail(pace float64) float64 {
	const year = 365.25 * 24 * float64(time.Hour/time.Millisecond)
	steps := year / max(pace, 1000) / falseMarks
	return max(1, math.Log(steps)/-math.Log(1-share))
}

// follow learns the interval. A gap counts for little.
func (u *usual) follow(d float64) {
	if u.Pace == 0 {
		u.Pace = d
		return
	}
	u.Pace += (min(d, 2*u.Pace) - u.Pace) / 16
}

// reach is how far a reading may lie from the last one, so many ms before.
func (x *Sensor) reach(p *plan, ms float64) float64 {
	u := &x.Usual
	if !p.water && u.Pace > swift {
		return math.Inf(1)
	}
	r := max(p.least, u.Far*u.Tail)
	if p.fill > 0 {
		r = max(r, p.fill*math.Abs(x.Last))
	}
	switch {
	case u.Grain != 0 && u.N > young:
		r = max(r, 2.5*u.Grain) // two steps of the resolution are none
	case p.first == 0:
		return math.Inf(1)
	default:
		r = max(r, p.first)
	}
	if ms > 1.5*u.Pace {
		r *= ms / u.Pace
	}
	return r
}

// hear notes that there is a reading.
func (x *Sensor) hear(at aquarium.Instant) {
	if x.Heard != 0 {
		x.Usual.follow(float64(at - x.Heard))
	}
	x.Heard = at
}

// pace is the sensor's interval, 0 before its second reading.
func (x *Sensor) pace() time.Duration {
	return time.Duration(x.Usual.Pace) * time.Millisecond
}
