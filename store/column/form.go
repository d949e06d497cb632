package column

import "math"

// form is how a column's doubles follow from whole numbers.
type form uint8

const (
	// quotient is m / 10^exp: a decimal as it was read or printed.
	quotient form = iota
	// single is that rounded to 32 bits on its way: sensors that reckon so.
	single
	// product is m * 10^-exp: gateways that scale what they count.
	product
	// ordered is any double: its bits, of a negative one all but the sign
	// turned, so that greater doubles are greater numbers.
	ordered
)

var inverse10 = [maxExp + 1]float64{1, 1e-1, 1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9, 1e-10, 1e-11, 1e-12, 1e-13, 1e-14, 1e-15}

func order(v float64) int64 {
	b := int64(math.Float64bits(v))
	return b ^ int64(uint64(b>>63)>>1)
}

func unorder(x int64) float64 {
	return math.Float64frombits(uint64(x ^ int64(uint64(x>>63)>>1)))
}

// back is the double that m stands for.
func (f form) back(m int64, exp uint8) float64 {
	switch f {
	case quotient:
		return float64(m) / pow10[exp]
	case single:
		return float64(float32(float64(m) / pow10[exp]))
	case product:
		return float64(m) * inverse10[exp]
	}
	return unorder(m)
}

// whole is the m that stands for v at that exponent.
func (f form) whole(v float64, exp uint8) (m int64, ok bool) {
	if f == quotient {
		return DecimalAt(v, exp)
	}
	return f.nearest(v, exp)
}

// nearest rounds to find it.
func (f form) nearest(v float64, exp uint8) (m int64, ok bool) {
	x := math.RoundToEven(v * pow10[exp])
	if !(math.Abs(x) <= maxMantissa) {
		return 0, false
	}
	m = int64(x)
	return m, math.Float64bits(f.back(m, exp)) == math.Float64bits(v)
}

// least is the smallest exponent that v has in that form, or above maxExp.
func (f form) least(v float64, from uint8) uint8 {
	for e := from; e <= maxExp; e++ {
		if _, ok := f.whole(v, e); ok {
			return e
		}
	}
	return maxExp + 1
}

// scaled is how all of a column's doubles follow from whole numbers. Where it
// is signed, those below zero are one lower, so that minus zero is -1: rounding
// gives one as often as the other.
type scaled struct {
	form
	exp    uint8
	signed bool
}

// toWhole fills xs with the whole numbers that stand for vs, and is how, and
// the indices of those for which none does: in their place stands the one
// before.
func toWhole(xs []int64, vs []float64, odd []int) (scaled, []int) {
	most := 1 + len(vs)/16 // odd ones, before another form is cheaper
	for _, f := range [...]form{quotient, single, product} {
		s, ok := f.try(vs)
		for ok {
			if odd = s.fill(xs, vs, odd[:0], most); len(odd) <= most {
				return s, odd
			}
			// More places than the sample showed?
			higher := s.exp
			for _, i := range odd {
				if e := f.least(vs[i], s.exp+1); e <= maxExp {
					higher = max(higher, e)
				}
			}
			ok = higher > s.exp
			s.exp = higher
		}
	}
	for i, v := range vs {
		xs[i] = order(v)
	}
	return scaled{form: ordered}, odd[:0]
}

// try is the exponent that a sample of vs asks for, and whether the form fits
// most of them.
func (f form) try(vs []float64) (s scaled, ok bool) {
	s.form = f
	n, fit := 0, 0
	for i := 0; i < len(vs); i += 1 + len(vs)/32 {
		n++
		if vs[i] == 0 {
			fit++
		} else if e := f.least(vs[i], s.exp); e <= maxExp {
			s.exp = e
			fit++
		}
	}
	return s, fit*4 >= n*3
}

// fill stops when there are more than most odd ones.
func (s *scaled) fill(xs []int64, vs []float64, odd []int, most int) []int {
	last := int64(0)
	xs = xs[:len(vs)]
	for i, v := range vs {
		m, ok := s.whole(v, s.exp)
		if !ok {
			if v == 0 {
				s.signed = true
			} else if odd = append(odd, i); len(odd) > most {
				return odd
			} else {
				m = last
			}
		}
		xs[i] = m
		last = m
	}
	if s.signed {
		for i, v := range vs {
			if math.Signbit(v) {
				xs[i]--
			}
		}
	}
	return odd
}

// fromWhole fills vs with what xs stand for.
func (s scaled) fromWhole(vs []float64, xs []int64) {
	xs = xs[:len(vs)]
	switch {
	case s.signed:
		for i, x := range xs {
			switch {
			case x < -1:
				vs[i] = s.back(x+1, s.exp)
			case x == -1:
				vs[i] = math.Copysign(0, -1)
			default:
				vs[i] = s.back(x, s.exp)
			}
		}
	case s.form == quotient && s.exp == 0:
		for i, x := range xs {
			vs[i] = float64(x)
		}
	case s.form == quotient:
		p := pow10[s.exp]
		for i, x := range xs {
			vs[i] = float64(x) / p
		}
	default:
		for i, x := range xs {
			vs[i] = s.back(x, s.exp)
		}
	}
}
