package water

import "math"

// Constants of the dielectric constant of water: Bradley, D.J. & Pitzer, K.S.
// (1979) J. Phys. Chem. 83, 1599-1603, table II; 0 to 350 Cel, pressure in bar.
const (
	dielectricU1 = 3.4279e2
	dielectricU2 = -5.0866e-3
	dielectricU3 = 9.4690e-7
	dielectricU4 = -2.0525
	dielectricU5 = 3.1159e3
	dielectricU6 = -1.8289e2
	dielectricU7 = -8.0325e3
	dielectricU8 = 4.2142e6
	dielectricU9 = 2.1417

	atmosphereBar = 1.01325 // exact by definition
)

// dielectric is the static dielectric constant of water at one atmosphere.
func dielectric(t Celsius) float64 {
	k := t.kelvin()
	d1000 := dielectricU1 * math.Exp(dielectricU2*k+dielectricU3*k*k)
	c := dielectricU4 + dielectricU5/(dielectricU6+k)
	b := dielectricU7 + dielectricU8/k + dielectricU9*k
	return d1000 + c*math.Log((b+atmosphereBar)/(b+1000))
}

// debyeHueckel is the constant A of the limiting law in log10 units and
// (kg/mol)^0.5: 1.8248e6 * sqrt(density in g/cm3) / (dielectric * T)^1.5
// (Stumm & Morgan, Aquatic Chemistry, 3rd ed., chapter 3, quoted from memory;
// checked against testdata/davies.csv).
func debyeHueckel(t Celsius) float64 {
	return 1.8248e6 * math.Sqrt(density(t)/1000) / math.Pow(dielectric(t)*t.kelvin(), 1.5)
}

// daviesTerm is Davies' 0.3: Davies, C.W. (1962) Ion Association; his form of
// 1938 had 0.2. Valid to an ionic strength of about 0.5 mol/kg.
const daviesTerm = 0.3

// activities are the activity coefficients of ions with one and with two
// charges, by Davies' equation: log10 gamma = -A z^2 (sqrt(I)/(1+sqrt(I)) -
// 0.3 I), so that the second is the fourth power of the first.
func activities(a, ionic float64) (one, two float64) {
	s := math.Sqrt(ionic)
	one = power10(-a * (s/(1+s) - daviesTerm*ionic))
	two = one * one
	return one, two * two
}

// Activity is the activity coefficient of an ion with that charge (its sign
// does not matter) at an ionic strength up to 0.1 mol/l, by Davies' equation.
// Out of range is ErrRange.
func Activity(charge int, ionic MolPerL, t Celsius) (float64, error) {
	if err := first(temperatures.check(float64(t)), ionicStrengths.check(float64(ionic))); err != nil {
		return 0, err
	}
	one, _ := activities(debyeHueckel(t), float64(ionic))
	return math.Pow(one, float64(charge*charge)), nil
}
