package relation

import (
	"math"
	"slices"
)

// normal makes a median absolute deviation a standard deviation (Hampel 1974).
const normal = 1.4826022185056018

// centre is the median of xs and how far one of them usually lies from it: by the
// median deviation, so that a few wild rows count for nothing, unless most rows
// are the same to the last digit and that says too little. NaN is no value.
func centre(xs []float64) (median, sd float64) {
	var vs []float64
	for _, x := range xs {
		if !math.IsNaN(x) {
			vs = append(vs, x)
		}
	}
	if len(vs) == 0 {
		return 0, 0
	}
	median = middle(vs)
	sum := 0.0
	for i, v := range vs {
		sum += (v - median) * (v - median)
		vs[i] = math.Abs(v - median)
	}
	return median, max(normal*middle(vs), math.Sqrt(sum/float64(len(vs)))/3)
}

// middle is the upper median. It sorts what it is given.
func middle(xs []float64) float64 {
	slices.Sort(xs)
	return xs[len(xs)/2]
}

// looks is how many independent looks at its own variance a series about zero
// comes to: its length over the sum of its squared autocorrelations (Bartlett
// 1946), at the least one.
func looks(xs []float64, lags int) float64 {
	all := product(xs, 0)
	if all == 0 {
		return 1
	}
	sum := 1.0
	for lag := 1; lag <= lags && lag < len(xs); lag++ {
		r := product(xs, lag) / all
		sum += 2 * r * r
	}
	return max(1, float64(len(xs))/sum)
}

func product(xs []float64, lag int) (sum float64) {
	for i := lag; i < len(xs); i++ {
		sum += xs[i] * xs[i-lag]
	}
	return sum
}
