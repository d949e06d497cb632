package statistic

import "math"

// density is that of the standard normal distribution.
func density(x float64) float64 { return math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) }

// Below is the probability of a standard normal value below x.
func Below(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }

// Deviate is the inverse of Below: the standard normal value that a share p of
// all lies below. 0 and 1 give the infinities.
func Deviate(p float64) float64 {
	if p < 0.5 { // keeps its digits in the lower tail
		return -math.Sqrt2 * math.Erfcinv(2*p)
	}
	return math.Sqrt2 * math.Erfinv(2*p-1)
}
