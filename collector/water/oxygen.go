package water

import "math"

// Oxygen is what fresh water holds in equilibrium with moist air at one
// atmosphere: Benson, B.B. & Krause, D. (1984) Limnol. Oceanogr. 29, 620-632,
// as adopted by APHA 4500-O and the USGS; 0 to 40 Cel, else ErrRange.
func Oxygen(t Celsius) (MgPerL, error) {
	if err := oxygenAt.check(float64(t)); err != nil {
		return 0, err
	}
	k := t.kelvin()
	return MgPerL(math.Exp(-139.34411 + (1.575701e5+(-6.642308e7+(1.243800e10-8.621949e11/k)/k)/k)/k)), nil
}

// AmmoniaFree is the share, 0 to 1, of ammonia that is not ionised and
// therefore poisons fish: Emerson, K., Russo, R.C., Lund, R.E. & Thurston, R.V.
// (1975) J. Fish. Res. Board Can. 32, 2379-2383; zero ionic strength, pH 4 to
// 10, 0 to 50 Cel, else ErrRange.
func AmmoniaFree(ph PH, t Celsius) (float64, error) {
	if err := first(acidities.check(float64(ph)), temperatures.check(float64(t))); err != nil {
		return 0, err
	}
	pKa := 0.09018 + 2729.92/t.kelvin()
	return 1 / (1 + power10(pKa-float64(ph))), nil
}
