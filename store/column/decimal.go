package column

import "math"

// maxExp is the most decimal places a Decimal has. A double has 15 decimal
// digits that survive (DBL_DIG of C, IEEE 754 binary64).
const maxExp = 15

// maxMantissa is up to where every whole number is a double: 2^53.
const maxMantissa = 1 << 53

var pow10 = [maxExp + 1]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// Decimal is v as mantissa / 10^exp with the smallest exp, 0 to 15, for which
// FromDecimal gives v back bit by bit. ok is false where v is no such decimal:
// NaN, infinities, minus zero, thirds, and mantissas beyond 2^53.
func Decimal(v float64) (mantissa int64, exp uint8, ok bool) {
	for e := range uint8(maxExp + 1) {
		if m, ok := DecimalAt(v, e); ok {
			return m, e, true
		}
	}
	return 0, 0, false
}

// DecimalAt is v as mantissa / 10^exp where FromDecimal gives it back bit by bit,
// exp being 0 to 15.
func DecimalAt(v float64, exp uint8) (mantissa int64, ok bool) {
	p := pow10[exp&15]
	if m := float64(v*p+rounds) - rounds; math.Abs(m) <= rounded {
		return int64(m), math.Float64bits(m/p) == math.Float64bits(v)
	}
	return quotient.nearest(v, exp)
}

// Doubles near rounds are whole numbers, so that adding it rounds what is up to
// rounded either way: quicker than the instruction for it, and what comes out is
// whole, whatever it was.
const rounds, rounded = 3 << 51, 1 << 51

// FromDecimal is the double nearest to mantissa / 10^exp: both sides of the
// division are exact, and IEEE 754 rounds it correctly. exp is at most 15,
// mantissa at most 2^53 either way.
func FromDecimal(mantissa int64, exp uint8) float64 {
	return float64(mantissa) / pow10[exp]
}
