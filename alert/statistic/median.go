package statistic

import (
	"math"
	"slices"
)

// Quantile is the value that a share p of the values lies below, between two of
// them in proportion (Hyndman & Fan 1996, type 7). It sorts xs. Without values
// it is NaN.
func Quantile(xs []float64, p float64) float64 {
	slices.Sort(xs)
	return between(xs, p)
}

func between(sorted []float64, p float64) float64 {
	n := len(sorted)
	if n == 0 {
		return math.NaN()
	}
	at := p * float64(n-1)
	i := min(max(int(at), 0), n-1)
	if i == n-1 {
		return sorted[i]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}

// Median is the middle value; of two the mean. It sorts xs. Without values it
// is NaN.
func Median(xs []float64) float64 {
	slices.Sort(xs)
	return middle(xs)
}

func middle(sorted []float64) float64 {
	n := len(sorted)
	if n == 0 {
		return math.NaN()
	}
	return sorted[(n-1)/2] + (sorted[n/2]-sorted[(n-1)/2])/2
}

// Normal makes the median absolute deviation an estimate of the standard
// deviation of normal values: 1/Deviate(3/4) (Hampel 1974).
const Normal = 1.4826022185056018

// MAD is the median and the median absolute deviation from it. It overwrites
// xs. Without values both are NaN.
func MAD(xs []float64) (median, deviation float64) {
	median = Median(xs)
	for i, x := range xs {
		xs[i] = math.Abs(x - median)
	}
	return median, Median(xs)
}

// few makes up for what a deviation from the median of few values falls short:
// Croux & Rousseeuw (1992), from memory; a simulation in the tests finds the
// same within 1.5 %.
var few = [10]float64{2: 1.196, 3: 1.495, 4: 1.363, 5: 1.206, 6: 1.200, 7: 1.140, 8: 1.129, 9: 1.107}

// Spread is the median of xs and a robust estimate of their standard deviation,
// unbiased for normal values however few. It overwrites xs. Of one value the
// spread is 0; without values both are NaN.
func Spread(xs []float64) (median, sd float64) {
	median, mad := MAD(xs)
	return median, mad * Normal * fewFactor(len(xs))
}

func fewFactor(n int) float64 {
	if n < len(few) {
		return max(1, few[n])
	}
	return float64(n) / (float64(n) - 0.8)
}
