package water

import "math"

// CO2 is the dissolved carbon dioxide that pH, alkalinity and temperature say
// there is, in soft fresh water: 4 to 10 pH, 0.1 to 40 dKH, 0 to 50 Cel, else
// ErrRange. See Carbonate for what is assumed, and for water with other salts;
// each millimole of them per litre takes about 1 % off.
func CO2(ph PH, kh DegreeKH, t Celsius) (MgPerL, error) {
	c, err := At(t)
	if err != nil {
		return 0, err
	}
	return c.CO2(ph, kh)
}

// PHAt is the pH of soft fresh water with that much dissolved carbon dioxide:
// the inverse of CO2, with the same ranges.
func PHAt(co2 MgPerL, kh DegreeKH, t Celsius) (PH, error) {
	c, err := At(t)
	if err != nil {
		return 0, err
	}
	return c.PH(co2, kh)
}

// DegassedPH is where the pH settles when nothing doses, breathes or grows and
// the water has come to equilibrium with a room whose air holds airPPM parts
// per million of CO2. Out of range is ErrRange.
func DegassedPH(kh DegreeKH, t Celsius, airPPM float64) (PH, error) {
	c, err := At(t)
	if err != nil {
		return 0, err
	}
	co2, err := c.Air(airPPM)
	if err != nil {
		return 0, err
	}
	return c.PH(co2, kh)
}

// CO2Simple is CO2 without activity coefficients, carbonate and hydroxide: the
// form behind the printed tables (Tucker 1984). It reads 2 to 11 % high and is
// here to be compared with; the same ranges as CO2.
func CO2Simple(ph PH, kh DegreeKH, t Celsius) (MgPerL, error) {
	if err := first(acidities.check(float64(ph)), alkalinities.check(float64(kh))); err != nil {
		return 0, err
	}
	pk1, err := PK1(t)
	if err != nil {
		return 0, err
	}
	return MgPerL(float64(kh.MeqPerL()) / 1000 * power10(pk1-float64(ph)) * mgPerMolCO2), nil
}

// CO2RuleOfThumb is 3 * dKH * 10^(7-pH): common practice, no source. It knows
// neither temperature nor activity: in soft water of pH 6 to 7.4 and 1 to 10
// dKH it reads 9 to 13 % low at 25 Cel and 15 to 19 % low at 20 Cel against
// PHREEQC. It is here only so that people recognise the number they are used
// to, and knows no range.
func CO2RuleOfThumb(ph PH, kh DegreeKH) MgPerL {
	return MgPerL(3 * float64(kh) * math.Pow(10, 7-float64(ph)))
}
