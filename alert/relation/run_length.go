package relation

import "math"

// rings is how finely the run length's Markov chain divides the way to the limit;
// with twice as many it changes by less than a thousandth.
const rings = 50

// RunLength is how many rows of n independent standard normal sensors it takes on
// average until T² of their averages, with that gain, passes the limit: by the
// Markov chain over the distance from the centre, which is all that matters while
// nothing is wrong (Runger & Prabhu 1996). The gain is 0.02 to 1.
func RunLength(n int, gain, limit float64) float64 {
	width := 2 * math.Sqrt(limit*gain/(2-gain)) / (2*rings + 1)
	a, steps := make(square, rings+1), make([]float64, rings+1)
	var edges [rings + 1]central
	for j := range edges {
		edge := (float64(j) + 0.5) * width / gain
		edges[j] = chiSquare(n, edge*edge)
	}
	for i := range a {
		a[i] = make([]float64, rings+1)
		far := float64(i) * width * (1 - gain) / gain
		below := 0.0
		for j := range a[i] {
			within := edges[j].off(far * far)
			a[i][j] = below - within
			below = within
		}
		a[i][i]++
		steps[i] = 1
	}
	inv, ok := a.inverse()
	if !ok {
		return math.Inf(1)
	}
	out := make([]float64, rings+1)
	inv.times(steps, out)
	return out[0]
}

// Limit is the limit at which RunLength is rows.
func Limit(n int, gain, rows float64) float64 {
	lo, hi := 0.0, float64(n)+10
	for RunLength(n, gain, hi) < rows {
		lo, hi = hi, 2*hi
	}
	for hi-lo > 1e-3 {
		if mid := (lo + hi) / 2; RunLength(n, gain, mid) < rows {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// central is the probability that a central chi-square value is below 2*half.
type central struct {
	shape, half float64
	below       float64
	term        float64 // what two degrees of freedom more take away
}

// chiSquare is that of n degrees of freedom and x.
func chiSquare(n int, x float64) central {
	c := central{shape: float64(n) / 2, half: x / 2}
	if x > 0 {
		lg, _ := math.Lgamma(c.shape + 1)
		c.term = math.Exp(c.shape*math.Log(c.half) - c.half - lg)
		c.below = series(c.shape, c.half, c.term)
	}
	return c
}

// off is the same of a noncentral one: central ones of n, n+2, ... degrees, weighed
// by Poisson (Johnson, Kotz & Balakrishnan 1995, chapter 29).
func (c central) off(noncentral float64) float64 {
	mean := noncentral / 2
	below, term := c.below, c.term
	weight, seen, sum := math.Exp(-mean), 0.0, 0.0
	for j := 0; seen < 1-1e-12 && (below > 1e-15 || float64(j) < mean); j++ {
		sum += weight * below
		seen += weight
		weight *= mean / float64(j+1)
		below -= term
		term *= c.half / (c.shape + float64(j) + 1)
	}
	return sum
}

// series is the central chi-square's probability below 2x with 2a degrees: the
// incomplete gamma function by its series, whose first term is given.
func series(a, x, term float64) float64 {
	sum := term
	for k := 1.0; term > 1e-17*sum; k++ {
		term *= x / (a + k)
		sum += term
	}
	return min(sum, 1)
}

// lowChi is the value a central chi-square with n degrees is below of in one of
// ten cases, n being any positive number (Wilson & Hilferty 1931).
func lowChi(n float64) float64 {
	const z = -1.2815515655446004 // the normal deviate of 0.1
	v := 2 / (9 * n)
	return n * math.Pow(max(1-v+z*math.Sqrt(v), 0.05), 3)
}
