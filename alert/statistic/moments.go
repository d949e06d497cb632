package statistic

import "math"

// Moments is the mean and variance of a stream by Welford's method (1962),
// which keeps the digits that a sum of squares loses. JSON keeps it whole.
type Moments struct {
	N    int     `json:"n"`
	Mean float64 `json:"mean"`
	M2   float64 `json:"m2"` // sum of squared deviations
}

// Take adds a value.
func (m *Moments) Take(v float64) {
	m.N++
	d := v - m.Mean
	m.Mean += d / float64(m.N)
	m.M2 += d * (v - m.Mean)
}

// SD is the standard deviation of the values' source, 0 for fewer than two.
func (m *Moments) SD() float64 {
	if m.N < 2 {
		return 0
	}
	return math.Sqrt(m.M2 / float64(m.N-1))
}

// Autocorrelation is how much a value tells of the one lag later: -1 to 1, 0
// where the values do not differ or are too few (Box & Jenkins 1970).
func Autocorrelation(xs []float64, lag int) float64 {
	m := mean(xs)
	var both, all float64
	for i, x := range xs {
		all += (x - m) * (x - m)
		if i+lag < len(xs) {
			both += (x - m) * (xs[i+lag] - m)
		}
	}
	if all == 0 {
		return 0
	}
	return both / all
}
