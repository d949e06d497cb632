package statistic

import "math"

// quadrature holds the nodes and weights of the Gauss-Legendre rule on an
// interval.
type quadrature struct{ x, w []float64 }

// gauss is the rule of n nodes on lo..hi. The roots of the Legendre polynomial
// are found by Newton's method from their asymptotic places.
func gauss(n int, lo, hi float64) quadrature {
	q := quadrature{make([]float64, n), make([]float64, n)}
	for i := range n {
		z := math.Cos(math.Pi * (float64(i) + 0.75) / (float64(n) + 0.5))
		slope := 0.0
		for range 100 {
			p, before := 1.0, 0.0
			for k := range n {
				p, before = (float64(2*k+1)*z*p-float64(k)*before)/float64(k+1), p
			}
			slope = float64(n) * (z*p - before) / (z*z - 1)
			step := p / slope
			if z -= step; math.Abs(step) < 1e-15 {
				break
			}
		}
		q.x[i] = (lo+hi)/2 - (hi-lo)/2*z
		q.w[i] = (hi - lo) / ((1 - z*z) * slope * slope)
	}
	return q
}

// solve brings a*x = b to x in place of b, by elimination with partial
// pivoting. a is n rows of n and is used up.
func solve(a [][]float64, b []float64) {
	n := len(b)
	for c := range n {
		best := c
		for r := c + 1; r < n; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[best][c]) {
				best = r
			}
		}
		a[c], a[best], b[c], b[best] = a[best], a[c], b[best], b[c]
		for r := c + 1; r < n; r++ {
			f := a[r][c] / a[c][c]
			if f == 0 {
				continue
			}
			for k := c; k < n; k++ {
				a[r][k] -= f * a[c][k]
			}
			b[r] -= f * b[c]
		}
	}
	for c := n - 1; c >= 0; c-- {
		for k := c + 1; k < n; k++ {
			b[c] -= a[c][k] * b[k]
		}
		b[c] /= a[c][c]
	}
}

// threshold is where a run length that grows with its argument comes to want,
// between 0 and most, to one part in a million of want. The logarithm of a run
// length is nearly straight, so a bracketed secant (the Illinois rule) takes few
// steps.
func threshold(want, most float64, runLength func(float64) float64) float64 {
	miss := func(x float64) float64 { return math.Log(runLength(x) / want) }
	lo, hi := 0.0, 1.0
	under, over := miss(lo), miss(hi)
	if under >= 0 {
		return lo
	}
	for over < 0 {
		if hi >= most {
			return most
		}
		lo, under = hi, over
		hi = min(hi*1.5, most)
		over = miss(hi)
	}
	for range 60 {
		x := lo + (hi-lo)*under/(under-over)
		switch m := miss(x); {
		case math.Abs(m) < 1e-6:
			return x
		case m < 0:
			lo, under, over = x, m, over/2
		default:
			hi, over, under = x, m, under/2
		}
	}
	return (lo + hi) / 2
}
