package water

import "math"

// coefficients of log10 K = a1 + a2*T + a3/T + a4*log10(T) + a5/T^2, T in
// kelvin.
type coefficients struct{ a1, a2, a3, a4, a5 float64 }

// Plummer, L.N. & Busenberg, E. (1982) Geochim. Cosmochim. Acta 46, 1011-1040,
// table 1 of the reactions' constants; valid 0 to 90 Cel, molal, activities.
var (
	// CO2(aq) + H2O = H+ + HCO3-
	coefficientsK1 = coefficients{-356.3094, -0.06091964, 21834.37, 126.8339, -1684915}
	// HCO3- = H+ + CO3 2-
	coefficientsK2 = coefficients{-107.8871, -0.03252849, 5151.79, 38.92561, -563713.9}
	// CO2(g) = CO2(aq), mol/(kg atm)
	coefficientsKH = coefficients{108.3865, 0.01985076, -6919.53, -40.45154, 669365}
	// H2O = H+ + OH-
	coefficientsKW = coefficients{-283.971, -0.05069842, 13323, 102.24447, -1119669}
)

// log10 takes the logarithm of T as given: the four constants share it.
func (c coefficients) log10(kelvin, log10Kelvin float64) float64 {
	return c.a1 + c.a2*kelvin + c.a3/kelvin + c.a4*log10Kelvin + c.a5/(kelvin*kelvin)
}

func (c coefficients) pK(t Celsius) (float64, error) {
	if err := temperatures.check(float64(t)); err != nil {
		return 0, err
	}
	k := t.kelvin()
	return -c.log10(k, math.Log10(k)), nil
}

// PK1 is the first dissociation constant of dissolved CO2, as -log10; 0 to
// 50 Cel, else ErrRange.
func PK1(t Celsius) (float64, error) { return coefficientsK1.pK(t) }

// PK2 is the second dissociation constant; as PK1.
func PK2(t Celsius) (float64, error) { return coefficientsK2.pK(t) }

// PKH is Henry's constant of CO2, mol/(kg atm); as PK1.
func PKH(t Celsius) (float64, error) { return coefficientsKH.pK(t) }

// PKW is the ion product of water; as PK1.
func PKW(t Celsius) (float64, error) { return coefficientsKW.pK(t) }

// power10 is 10 to the x.
func power10(x float64) float64 { return math.Exp(x * math.Ln10) }
