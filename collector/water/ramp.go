package water

import (
	"fmt"
	"math"
	"time"
)

// Ramp is the pH of a tank over a time in which the CO2 comes in evenly: the
// morning, from when the pH falls steadily to when the valve first shuts; or
// the night, with the valve shut all the while.
//
// The balance is that of a stirred vessel, dC/dt = in - out (C - Cair): what
// the valve and the tank's breath bring in, less what leaves for the room in
// proportion to how far the water is above the room's air. Plants taking up
// CO2 at an even rate are part of in. The carbonate that changes with it is
// nothing beside the CO2 below pH 8.
type Ramp struct {
	Alkalinity DegreeKH
	Water      Celsius
	Step       PH // the readings' resolution; 0 means 0.01
	Readings   []Acidity
}

// Acidity is a pH and how long after the ramp's beginning it was read.
type Acidity struct {
	After time.Duration
	PH    PH
}

const (
	// usualStep is the resolution of most instruments; common practice, no
	// source.
	usualStep PH = 0.01
	// block is the stretch whose mean counts as one measurement. Readings
	// closer than that are no news of each other: a step of 0.01 lasts for
	// minutes, and gas takes minutes to be mixed. Common practice, no
	// source.
	block = 5 * time.Minute
	// A ramp needs so many blocks, and a change of so many steps, for
	// anything to be told from it. Common practice, no source.
	leastBlocks = 6
	leastSteps  = 10
)

// measured is the CO2 of a block.
type measured struct {
	hours, co2 float64
	weight     float64 // of its square
}

// Course is what a Ramp leads to. The zero Course answers nothing; take one from
// Fit. It does not change and may be shared.
type Course struct {
	carbon  Carbonate
	blocks  []measured
	prior   Estimate[PerHour] // the exchange as known from elsewhere; Best 0: not known
	profile []candidate
	best    int     // of profile
	limit   float64 // what a candidate's misfit may be beyond the best one's
	last    float64 // hours, of the last reading
}

// Fit finds the course that the ramp takes, from its own curvature alone. Out
// of range is ErrRange; ErrUndetermined where it is too short or too flat to
// say anything.
func (r Ramp) Fit() (Course, error) { return r.FitWith(Estimate[PerHour]{}) }

// FitWith is Fit where the rate of exchange with the room is known besides, as
// from the fall of CO2 in the night before: a morning that is over in an hour
// is hardly curved.
func (r Ramp) FitWith(exchange Estimate[PerHour]) (Course, error) {
	c, err := At(r.Water)
	if err != nil {
		return Course{}, err
	}
	if exchange.Best != 0 {
		if err := first(exchanges.check(float64(exchange.Best)), exchanges.check(float64(exchange.Lo)), exchanges.check(float64(exchange.Hi))); err != nil {
			return Course{}, err
		}
	}
	x := Course{carbon: c, prior: exchange}
	if x.blocks, err = r.blocks(&c); err != nil {
		return Course{}, err
	}
	x.last = r.Readings[len(r.Readings)-1].After.Hours()
	x.fit()
	return x, nil
}

// blocks are the ramp's means, with the weight that the resolution leaves them.
// The CO2 is averaged and not the pH, which bends within a block.
func (r Ramp) blocks(c *Carbonate) ([]measured, error) {
	step := r.Step
	if step == 0 {
		step = usualStep
	}
	if err := resolutions.check(float64(step)); err != nil {
		return nil, err
	}
	// A value rounded to a step is off by the step over the root of 12, and
	// CO2 goes with 10^-pH.
	off := math.Ln10 * float64(step) / math.Sqrt(12)
	var out []measured
	most := 0.0 // readings in a block
	lo, hi := PH(math.Inf(1)), PH(math.Inf(-1))
	for i := 0; i < len(r.Readings); {
		from := r.Readings[i].After
		var b measured
		n := 0.0
		for ; i < len(r.Readings) && r.Readings[i].After < from+block; i++ {
			at, ph := r.Readings[i].After, r.Readings[i].PH
			if i > 0 && at < r.Readings[i-1].After {
				return nil, fmt.Errorf("readings of a ramp not in the order of their times: %w", ErrRange)
			}
			co2, err := c.CO2(ph, r.Alkalinity)
			if err != nil {
				return nil, err
			}
			lo, hi = min(lo, ph), max(hi, ph)
			b.hours += at.Hours()
			b.co2 += float64(co2)
			n++
		}
		b.hours, b.co2 = b.hours/n, b.co2/n
		b.weight = n / (off * off * b.co2 * b.co2)
		most = max(most, n)
		out = append(out, b)
	}
	for i := range out { // a block with gaps is worth less than a full one
		out[i].weight /= most
	}
	switch {
	case len(out) < leastBlocks:
		return nil, fmt.Errorf("a ramp of %d times 5 min: %w: want %d", len(out), ErrUndetermined, leastBlocks)
	case hi-lo < leastSteps*step:
		return nil, fmt.Errorf("a ramp of %.2f pH: %w: want %.2f", float64(hi-lo), ErrUndetermined, float64(leastSteps*step))
	}
	return out, nil
}
