package statistic

import (
	"math"
	"slices"
)

// MeanShift splits a series in two so that the squares of the deviations from
// the two means are least: the first n values lie before the shift, and rest is
// what they then come to. n is 0 for fewer than two values.
func MeanShift(xs []float64) (n int, rest float64) {
	var all float64
	for _, x := range xs {
		all += x
	}
	m, count := all/float64(len(xs)), float64(len(xs))
	var sum, best, total float64
	for i, x := range xs {
		total += (x - m) * (x - m)
		sum += x - m
		if k := float64(i + 1); k < count {
			if gain := sum * sum * count / (k * (count - k)); n == 0 || gain > best {
				n, best = i+1, gain
			}
		}
	}
	return n, total - best
}

// Pettitt is the same by ranks, which no outlier moves (Pettitt 1979): where the
// shift is, its statistic, and about how often a series without one would show
// as much; at most 1.
func Pettitt(xs []float64) (n int, u, p float64) {
	sorted := slices.Sorted(slices.Values(xs))
	count := float64(len(xs))
	sum := 0.0
	for i, x := range xs {
		under, found := slices.BinarySearch(sorted, x)
		upto := under
		for found && upto < len(sorted) && sorted[upto] == x {
			upto++
		}
		rank := float64(under+upto+1) / 2 // of equals the mean
		sum += 2*rank - count - 1
		if math.Abs(sum) > u {
			n, u = i+1, math.Abs(sum)
		}
	}
	return n, u, min(1, 2*math.Exp(-6*u*u/(count*count*count+count*count)))
}
