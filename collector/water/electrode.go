package water

import "math"

// CODATA 2018, both exact since the SI of 2019 (Tiesinga et al. 2021, Rev. Mod.
// Phys. 93, 025010).
const (
	gasConstant     = 8.314462618 // J/(mol K)
	faradayConstant = 96485.33212 // C/mol
)

// NernstSlope is what an ideal glass electrode gives for one pH, R T ln(10)/F,
// in mV and positive; 0 to 50 Cel, else ErrRange. The electrode's own potential
// falls by it as the pH rises.
func NernstSlope(t Celsius) (Millivolt, error) {
	if err := temperatures.check(float64(t)); err != nil {
		return 0, err
	}
	return Millivolt(gasConstant * t.kelvin() * math.Ln10 / faradayConstant * 1000), nil
}

// Possible reports whether an electrode can give that: within 2 V of nothing,
// which no electrode comes near, and some transmitters do.
func (m Millivolt) Possible() bool { return potentials.check(float64(m)) == nil }

// IdealElectrode is the potential of an electrode with its zero at pH 7 and
// the full slope; the ranges of NernstSlope and of pH 0 to 14.
func IdealElectrode(ph PH, t Celsius) (Millivolt, error) {
	s, err := NernstSlope(t)
	if err != nil {
		return 0, err
	}
	if err := (limit{"pH", 0, 14, "pH"}).check(float64(ph)); err != nil {
		return 0, err
	}
	return Millivolt(float64(s) * (7 - float64(ph))), nil
}
