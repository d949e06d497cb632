package statistic

import (
	"math"
	"slices"
)

// Line is a straight line through points, with the limits of its slope.
type Line struct {
	Slope     float64
	Low, High float64
	Intercept float64 // median of y - Slope*x: half the points lie above the line
}

// At is the line's height at x.
func (l Line) At(x float64) float64 { return l.Intercept + l.Slope*x }

// TheilSen is the line whose slope is the median of the slopes of all pairs of
// points (Theil 1950; Sen 1968): more than a quarter of the points may be wrong
// without moving it far. The true slope of unconnected errors lies within Low
// and High with the confidence given (Sen's equation 2.6, with ties). It is
// false where no two points differ in x. It allocates and takes len(x) squared
// steps: for a few hundred points now and then.
func TheilSen(x, y []float64, confidence float64) (Line, bool) {
	n := len(x)
	slopes := make([]float64, 0, n*(n-1)/2)
	for i := range n {
		for j := i + 1; j < n; j++ {
			if x[j] != x[i] {
				slopes = append(slopes, (y[j]-y[i])/(x[j]-x[i]))
			}
		}
	}
	if len(slopes) == 0 {
		return Line{}, false
	}
	slices.Sort(slopes)
	l := Line{Slope: middle(slopes)}
	l.Low, l.High = sen(slopes, x, y, confidence)
	rest := make([]float64, n)
	for i := range n {
		rest[i] = y[i] - l.Slope*x[i]
	}
	l.Intercept = Median(rest)
	return l, true
}

// sen is the pair of slopes between which the true one lies.
func sen(slopes, x, y []float64, confidence float64) (low, high float64) {
	n := float64(len(x))
	variance := (n*(n-1)*(2*n+5) - ties(x) - ties(y)) / 18
	reach := -Deviate((1-confidence)/2) * math.Sqrt(max(0, variance))
	count := float64(len(slopes))
	lo := int(math.RoundToEven((count-reach)/2)) - 1
	hi := int(math.RoundToEven((count + reach) / 2))
	return slopes[min(max(lo, 0), len(slopes)-1)], slopes[max(min(hi, len(slopes)-1), 0)]
}

// ties is what equal values take from the variance of Kendall's statistic.
func ties(xs []float64) (sum float64) {
	sorted := slices.Sorted(slices.Values(xs))
	run := 1.0
	for i := 1; i <= len(sorted); i++ {
		if i < len(sorted) && sorted[i] == sorted[i-1] {
			run++
			continue
		}
		sum += run * (run - 1) * (2*run + 5)
		run = 1
	}
	return sum
}
