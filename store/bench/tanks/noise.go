package tanks

import "math"

// gauss holds the middles of 2^14 equally likely slices of the normal
// distribution: drawing one is a look-up, and the odds of a rounded value
// follow from the same distribution.
var gauss = func() (t [1 << 14]float32) {
	for i := range t {
		t[i] = float32(math.Sqrt2 * math.Erfinv(2*(float64(i)+0.5)/float64(len(t))-1))
	}
	return t
}()

// rng is xorshift64*: fast, and good enough for noise.
type rng uint64

func (r *rng) next() uint64 {
	x := *r
	x ^= x >> 12
	x ^= x << 25
	x ^= x >> 27
	*r = x
	return uint64(x) * 0x2545F4914F6CDD1D
}

func (r *rng) normal() float64 { return float64(gauss[r.next()>>50]) }

func (r *rng) below(n uint64) int64 { return int64((r.next() >> 32) * n >> 32) }

// bits is the information in having drawn the n-th step where mean and sigma
// are given in steps: -log2 of the odds of rounding to n.
func bits(n, mean, sigma float64) float64 {
	upper := math.Erf((n + 0.5 - mean) / (sigma * math.Sqrt2))
	lower := math.Erf((n - 0.5 - mean) / (sigma * math.Sqrt2))
	p := (upper - lower) / 2
	return -math.Log2(max(p, 1e-6)) // beyond the table's last slice there is nothing
}
