package water

import (
	"fmt"
	"math"
)

// candidate is the best course with one rate of exchange: C = begin + slope *
// (1 - exp(-k t))/k, which is a straight line where k is 0.
type candidate struct {
	k            float64 // per hour
	begin, slope float64 // mg/l; mg/l/h
	vb, vs, cov  float64 // their variances and covariance, at unit misfit
	misfit       float64 // sum of weighted squares, in units of the readings' own noise
}

// rise is (1 - exp(-k t))/k.
func (c candidate) rise(t float64) float64 {
	if c.k == 0 {
		return t
	}
	return -math.Expm1(-c.k*t) / c.k
}

// Rates of exchange that are tried: from none to a tank that gases out within
// minutes, at first in steps of 10 %, and then finely around those that fit.
const (
	exchangeLeast, exchangeMost = 1e-3, 20.0 // per hour
	exchangeStep                = 1.1
	exchangeParts               = 200
)

// fit works out the misfit of every rate of exchange. What is not told from
// the misfit alone stays open: all candidates within the limit are believed.
func (x *Course) fit() {
	coarse := []float64{0}
	for k := exchangeLeast; k <= exchangeMost; k *= exchangeStep {
		coarse = append(coarse, k)
	}
	x.try(coarse)
	lo, hi := len(coarse)-1, 0
	for i, c := range x.profile {
		if c.misfit-x.profile[x.best].misfit <= x.limit {
			lo, hi = min(lo, i), max(hi, i)
		}
	}
	from, to := coarse[max(lo-1, 0)], coarse[min(hi+1, len(coarse)-1)]
	fine := make([]float64, exchangeParts+1)
	for i := range fine { // evenly in the square root: dense where a straight line ends
		r := math.Sqrt(from) + (math.Sqrt(to)-math.Sqrt(from))*float64(i)/exchangeParts
		fine[i] = r * r
	}
	x.try(fine)
}

// try fits with each of the rates.
func (x *Course) try(rates []float64) {
	x.profile, x.best = x.profile[:0], 0
	least := math.Inf(1)
	for _, k := range rates {
		c := x.straightest(k)
		x.profile = append(x.profile, c)
		least = min(least, c.misfit)
	}
	// Where the ramp is rougher than its resolution, its own roughness is
	// the measure of it.
	freedom := len(x.blocks) - 3
	noise := max(1, least/float64(freedom))
	t := student95(freedom)
	x.limit = noise * t * t
	for i := range x.profile {
		c := &x.profile[i]
		if x.prior.Best != 0 {
			sd := max(float64(x.prior.Hi-x.prior.Lo)/(2*normal95), 0.01*float64(x.prior.Best))
			off := (c.k - float64(x.prior.Best)) / sd
			c.misfit += noise * off * off
		}
		if c.misfit < x.profile[x.best].misfit {
			x.best = i
		}
	}
}

// straightest is the weighted least-squares fit with one rate of exchange.
func (x *Course) straightest(k float64) candidate {
	c := candidate{k: k}
	var w, wr, wrr, wc, wrc float64
	for _, b := range x.blocks {
		r := c.rise(b.hours)
		w += b.weight
		wr += b.weight * r
		wrr += b.weight * r * r
		wc += b.weight * b.co2
		wrc += b.weight * r * b.co2
	}
	det := w*wrr - wr*wr
	c.slope = (w*wrc - wr*wc) / det
	c.begin = (wc - c.slope*wr) / w
	c.vb, c.vs, c.cov = wrr/det, w/det, -wr/det
	for _, b := range x.blocks {
		off := b.co2 - c.begin - c.slope*c.rise(b.hours)
		c.misfit += b.weight * off * off
	}
	return c
}

// span is the best value and the extent, over everything the ramp leaves
// possible, of a figure: of tells it, and how it goes with begin and slope.
func (x *Course) span(of func(c candidate) (v, byBegin, bySlope float64)) (best, lo, hi float64) {
	best, _, _ = of(x.profile[x.best])
	lo, hi = best, best
	for _, c := range x.profile {
		left := x.limit - (c.misfit - x.profile[x.best].misfit)
		if left < 0 {
			continue
		}
		v, b, s := of(c)
		reach := 0.0
		if !math.IsInf(v, 0) {
			reach = math.Sqrt(max(0, left*(b*b*c.vb+s*s*c.vs+2*b*s*c.cov)))
		}
		lo, hi = min(lo, v-reach), max(hi, v+reach)
	}
	return best, lo, hi
}

// Exchange is the share of what the water holds above the room's air that
// leaves within an hour.
func (x *Course) Exchange() Estimate[PerHour] {
	best, lo, hi := x.span(func(c candidate) (float64, float64, float64) { return c.k, 0, 0 })
	return Estimate[PerHour]{PerHour(best), PerHour(lo), PerHour(hi)}
}

// plateauWithin is how far apart the limits of a plateau may be, as a factor,
// for it to be told at all. Common practice, no source.
const plateauWithin = 2

// Plateau is where the CO2 comes to rest if everything goes on as during the
// ramp: with the valve that was open stuck open. ErrUndetermined where the ramp
// leaves more than a factor of two open, as one that is as good as straight
// does; the estimate's lower limit holds then all the same.
func (x *Course) Plateau() (Estimate[MgPerL], error) {
	best, lo, hi := x.span(func(c candidate) (v, b, s float64) {
		if c.k == 0 {
			return math.Inf(int(math.Copysign(1, c.slope))), 0, 0
		}
		return c.begin + c.slope/c.k, 1, 1 / c.k
	})
	e := Estimate[MgPerL]{MgPerL(best), MgPerL(max(0, lo)), MgPerL(hi)}
	if !(e.Hi <= plateauWithin*e.Lo) {
		return e, fmt.Errorf("a plateau between %.0f and %.0f mg/l: %w: the ramp is too short or too straight", float64(e.Lo), float64(e.Hi), ErrUndetermined)
	}
	return e, nil
}

// Inflow is the CO2 that comes in, in mg/l per hour, where the room's air holds
// that many parts per million; out of range is ErrRange.
func (x *Course) Inflow(airPPM float64) (Estimate[MgPerLHour], error) {
	air, err := x.carbon.Air(airPPM)
	if err != nil {
		return Estimate[MgPerLHour]{}, err
	}
	best, lo, hi := x.span(func(c candidate) (v, b, s float64) {
		return c.slope + c.k*(c.begin-float64(air)), c.k, 1
	})
	return Estimate[MgPerLHour]{MgPerLHour(best), MgPerLHour(lo), MgPerLHour(hi)}, nil
}

// Until is how long after the ramp's last reading the CO2 passes the bound;
// infinite: never, and 0 where it has. It is well told even where the plateau
// is not. A bound out of range is ErrRange.
func (x *Course) Until(bound MgPerL) (Estimate[Hour], error) {
	if err := carbonDioxides.check(float64(bound)); err != nil {
		return Estimate[Hour]{}, err
	}
	best, lo, hi := x.span(func(c candidate) (v, b, s float64) {
		missing := float64(bound) - c.begin
		r := missing / c.slope // what rise has to come to
		switch {
		case missing <= 0:
			return x.last, 0, 0
		case c.slope <= 0 || c.k*r >= 1:
			return math.Inf(1), 0, 0
		case c.k == 0:
			return r, -1 / c.slope, -r / c.slope
		}
		perRise := 1 / (1 - c.k*r)
		return -math.Log1p(-c.k*r) / c.k, -perRise / c.slope, -perRise * r / c.slope
	})
	return x.fromLast(best, lo, hi), nil
}

// settled is how near to its plateau the CO2 is taken to have come to rest.
const settled = 0.05

// Settles is how long after the ramp's last reading the CO2 comes within 5 % of
// its plateau; infinite for a ramp that may be a straight line.
func (x *Course) Settles() Estimate[Hour] {
	return x.fromLast(x.span(func(c candidate) (v, b, s float64) {
		if c.k == 0 {
			return math.Inf(1), 0, 0
		}
		plateau := c.begin + c.slope/c.k
		near := settled * math.Abs(plateau)
		far := math.Abs(c.slope) / c.k // at the beginning
		if far <= near {
			return 0, 0, 0
		}
		return math.Log(far/near) / c.k, -1 / (c.k * plateau), (1/c.slope - 1/(c.k*plateau)) / c.k
	}))
}

// fromLast counts hours from the last reading, none before it.
func (x *Course) fromLast(best, lo, hi float64) Estimate[Hour] {
	from := func(v float64) Hour { return Hour(max(0, v-x.last)) }
	return Estimate[Hour]{from(best), from(lo), from(hi)}
}
