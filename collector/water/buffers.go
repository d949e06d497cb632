package water

import "slices"

// Buffer is a pH standard and what it is worth at the temperature it has while
// an electrode stands in it.
type Buffer struct {
	Name  string
	steps []step // by temperature
}

// step is a buffer's pH at a temperature. Between two of them a straight line
// is within 0.001 pH.
type step struct {
	at Celsius
	ph PH
}

// Standards of the National Bureau of Standards: Bates (1962) J. Res. NBS 66A,
// 179; carbonate: Staples & Bates (1969) 73A, 37; as carried in IUPAC 2002
// (Buck et al., Pure Appl. Chem. 74, 2169). 0 to 50 Cel, to 0.005 pH.
var (
	Phthalate      = Buffer{"phthalate", steps(4.000, 3.998, 3.997, 3.998, 4.001, 4.005, 4.011, 4.018, 4.027, 4.050)}
	Phosphate      = Buffer{"phosphate", steps(6.984, 6.951, 6.923, 6.900, 6.881, 6.865, 6.853, 6.844, 6.838, 6.833)}
	PhosphateSeven = Buffer{"phosphate adjusted to 7", steps(7.118, 7.087, 7.059, 7.036, 7.016, 7.000, 6.987, 6.977, 6.970, 6.964)}
	Borax          = Buffer{"borax", steps(9.464, 9.395, 9.332, 9.276, 9.225, 9.180, 9.139, 9.102, 9.068, 9.010)}
	CarbonateTen   = Buffer{"carbonate", steps(10.317, 10.245, 10.179, 10.118, 10.062, 10.012, 9.966, 9.925, 9.889, 9.828)}
)

// What bottles sold as 4, 7 and 10 are worth, to 0.01 pH: the table of an
// industrial pH instrument's manual (MI 611-211, 2005, table 7). The table on
// the bottle in use is better still.
var (
	TechnicalFour  = Buffer{"technical 4", steps(4.00, 4.00, 4.00, 4.00, 4.00, 4.00, 4.01, 4.02, 4.03, 4.06)}
	TechnicalSeven = Buffer{"technical 7", steps(7.12, 7.09, 7.06, 7.04, 7.02, 7.00, 6.99, 6.99, 6.98, 6.97)}
	TechnicalTen   = Buffer{"technical 10", steps(10.32, 10.25, 10.18, 10.12, 10.06, 10.01, 9.97, 9.93, 9.89, 9.83)}
)

// steps are the values at 0, 5 ... 40 and 50 Cel.
func steps(ph ...PH) []step {
	out := make([]step, len(ph))
	for i, p := range ph {
		out[i] = step{Celsius(5 * i), p}
	}
	out[len(out)-1].at = 50
	return out
}

// At is the buffer's pH at t, 0 to 50 Cel, else ErrRange.
func (b Buffer) At(t Celsius) (PH, error) {
	if err := temperatures.check(float64(t)); err != nil {
		return 0, err
	}
	i := 1
	for i < len(b.steps)-1 && b.steps[i].at < t {
		i++
	}
	lo, hi := b.steps[i-1], b.steps[i]
	return lo.ph + (hi.ph-lo.ph)*PH((t-lo.at)/(hi.at-lo.at)), nil
}

// labels are what bottles have printed on them, their pH at 25 Cel.
var labels = map[PH]Buffer{
	4: TechnicalFour, 4.01: Phthalate, 6.86: Phosphate, 7: TechnicalSeven, 7.01: PhosphateSeven.shifted(0.01),
	9.18: Borax, 10: TechnicalTen.shifted(-0.01), 10.01: CarbonateTen,
}

// shifted is a buffer of the same kind that is made a little differently.
func (b Buffer) shifted(by PH) Buffer {
	ss := slices.Clone(b.steps)
	for i := range ss {
		ss[i].ph += by
	}
	return Buffer{b.Name, ss}
}

// Labelled is the buffer of a bottle that is sold by that pH: 4.00, 4.01, 6.86,
// 7.00, 7.01, 9.18, 10.00 or 10.01. False: no such bottle is known here, and only its
// own table tells what it is worth.
func Labelled(label PH) (Buffer, bool) {
	b, ok := labels[label]
	return b, ok
}
