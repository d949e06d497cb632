package water

import "errors"

// ErrUndetermined: what was measured does not say it. It is wrapped with what
// is missing.
var ErrUndetermined = errors.New("not determined")

// Estimate is a figure that was fitted to measurements, and the limits it lies
// in with 95 % confidence. A limit may be infinite.
type Estimate[T ~float64] struct{ Best, Lo, Hi T }

// normal95 is the normal quantile that leaves 2.5 % on either side.
const normal95 = 1.959964

// student95 is Student's quantile that leaves 2.5 % on either side, for 3
// degrees of freedom or more, by the expansion of Fisher & Cornish (1960)
// Technometrics 2, 209 (from memory); 3 % low at 3 degrees, 0.1 % at 10.
func student95(freedom int) float64 {
	const z = normal95
	n := float64(freedom)
	return z + (z*z*z+z)/(4*n) + (5*z*z*z*z*z+16*z*z*z+3*z)/(96*n*n)
}
