package statistic

import "math"

// Ewma is the exponentially weighted moving average of how far values lie from
// their mean (Roberts 1959; NIST e-Handbook 6.3.2.4), with fixed limits.
type Ewma struct {
	Lambda float64 // weight of the newest value, 0..1
	H      float64 // limit to either side: L * EwmaSpread(Lambda), in the unit of the values

	Value float64
}

// Take adds how far a value lies from its mean.
func (e *Ewma) Take(deviation float64) { e.Value += e.Lambda * (deviation - e.Value) }

// Rising and Falling report whether the average has passed H.
func (e *Ewma) Rising() bool  { return e.Value > e.H }
func (e *Ewma) Falling() bool { return e.Value < -e.H }

// EwmaSpread is the standard deviation of the average in the long run, for
// independent values of standard deviation 1.
func EwmaSpread(lambda float64) float64 { return math.Sqrt(lambda / (2 - lambda)) }

// EwmaRunLength is how many independent normal values a two-sided EWMA takes on
// average until it passes limits of l times EwmaSpread; the shift of their mean
// is in standard deviations of one value. It solves Crowder's integral equation
// (1987) by Nystroem's method.
func EwmaRunLength(lambda, l, shift float64) float64 {
	c := l * EwmaSpread(lambda)
	q := gauss(nodes(2*c/lambda), -c, c)
	n := len(q.x)
	a, b := make([][]float64, n), make([]float64, n)
	for i, z := range q.x {
		a[i], b[i] = make([]float64, n), 1
		for j, x := range q.x {
			a[i][j] = -q.w[j] / lambda * density((x-(1-lambda)*z)/lambda-shift)
		}
		a[i][i]++
	}
	solve(a, b)
	length := 1.0 // from 0, where the average begins
	for j, x := range q.x {
		length += q.w[j] / lambda * b[j] * density(x/lambda-shift)
	}
	return length
}

// highestL bounds EWMA limits: its run length is beyond 1e12 values.
const highestL = 8

// EwmaLimit is the l of EwmaRunLength at which both sides together signal
// falsely once in runLength values.
func EwmaLimit(lambda, runLength float64) float64 {
	return threshold(runLength, highestL, func(l float64) float64 { return EwmaRunLength(lambda, l, 0) })
}
