package water

import (
	"fmt"
	"math"
)

// mgPerMolCO2 is the molar mass of CO2, 44.0095 g/mol (C 12.0107, O 15.9994).
const mgPerMolCO2 = 44009.5

// Carbonate is the carbonate system of fresh water at one temperature: its
// constants are worked out once, for many sums. The zero Carbonate answers
// nothing; take one from At. It does not change and may be shared.
//
// Alkalinity is taken as all there is of HCO3-, CO3 2- and OH- less H+, which
// holds where no phosphate buffer, humic acid or active substrate carries a
// part of it. Activity coefficients are Davies'; ion pairs with calcium and
// magnesium are left out, which costs at most 2 % in hard water.
type Carbonate struct {
	k1, k2, kh, kw float64 // molal, kg/l taken as 1; kh in mol/(l atm)
	a              float64 // Debye and Hueckel's constant
	// Salt is the ionic strength of everything but the bicarbonate and its
	// sodium: 0 for soft water. 1 mmol/l of calcium chloride is 0.003.
	Salt MolPerL
}

// At is the carbonate system at t without other salts; 0 to 50 Cel, else
// ErrRange.
func At(t Celsius) (Carbonate, error) {
	if err := temperatures.check(float64(t)); err != nil {
		return Carbonate{}, err
	}
	k := t.kelvin()
	l := math.Log10(k)
	return Carbonate{
		k1: power10(coefficientsK1.log10(k, l)),
		k2: power10(coefficientsK2.log10(k, l)),
		kh: power10(coefficientsKH.log10(k, l)),
		kw: power10(coefficientsKW.log10(k, l)),
		a:  debyeHueckel(t),
	}, nil
}

// rounds is how often the ionic strength is improved: it hardly differs from
// the alkalinity it starts at, and the third round changes nothing beyond the
// seventh digit.
const rounds = 3

// CO2 is the dissolved carbon dioxide (with the little H2CO3 there is) of
// water with that pH and alkalinity. Outside pH 4 to 10 and 0.1 to 40 dKH, and
// where the pH is higher than that alkalinity can hold without any CO2, the
// error is ErrRange.
func (c *Carbonate) CO2(ph PH, kh DegreeKH) (MgPerL, error) {
	if err := first(acidities.check(float64(ph)), alkalinities.check(float64(kh)), ionicStrengths.check(float64(c.Salt))); err != nil {
		return 0, err
	}
	alk := float64(kh.MeqPerL()) / 1000
	h := power10(-float64(ph)) // activity
	salt := float64(c.Salt)
	ionic := alk + salt
	var co2 float64
	for range rounds {
		one, two := activities(c.a, ionic)
		free, hydroxide := h/one, c.kw/(h*one)
		bicarbonate, carbonate := c.k1/(h*one), c.k1*c.k2/(h*h*two) // per mole of CO2
		co2 = (alk + free - hydroxide) / (bicarbonate + 2*carbonate)
		if co2 <= 0 {
			return 0, fmt.Errorf("%v with %v leaves no carbonate: %w", ph, kh, ErrRange)
		}
		ionic = salt + (alk+free+hydroxide+co2*(bicarbonate+4*carbonate))/2
	}
	return MgPerL(co2 * mgPerMolCO2), nil
}

// PH is the pH of water with that much dissolved carbon dioxide: the inverse
// of CO2. Outside 0.0001 to 10000 mg/l, 0.1 to 40 dKH, or where the pH comes
// out beyond 4 to 10, the error is ErrRange.
func (c *Carbonate) PH(co2 MgPerL, kh DegreeKH) (PH, error) {
	if err := first(carbonDioxides.check(float64(co2)), alkalinities.check(float64(kh)), ionicStrengths.check(float64(c.Salt))); err != nil {
		return 0, err
	}
	alk := float64(kh.MeqPerL()) / 1000
	x := float64(co2) / mgPerMolCO2
	salt := float64(c.Salt)
	ionic := alk + salt
	h := (c.k1*x + c.kw) / alk
	for range rounds {
		one, two := activities(c.a, ionic)
		h = c.proton(h, x, alk, one, two)
		ionic = salt + (alk+(h+(c.kw+c.k1*x)/h)/one+4*c.k1*c.k2*x/(h*h*two))/2
	}
	ph := PH(-math.Log10(h))
	if err := acidities.check(float64(ph)); err != nil {
		return 0, fmt.Errorf("%v at %v: %w", co2, kh, err)
	}
	return ph, nil
}

// proton solves the alkalinity balance for the hydrogen ion's activity at
// fixed activity coefficients, from a first guess h. What the ions carry falls
// with h and is convex in it, so Newton's steps come down to the one root from
// the left after at most one step, and need no bracket but zero.
func (c *Carbonate) proton(h, co2, alk, one, two float64) float64 {
	single := (c.kw + c.k1*co2) / one
	double := 2 * c.k1 * c.k2 * co2 / two
	for range 60 {
		excess := single/h + double/(h*h) - h/one - alk
		slope := -single/(h*h) - 2*double/(h*h*h) - 1/one
		next := h - excess/slope
		if next <= 0 {
			next = h / 10
		}
		if math.Abs(next-h) <= 1e-10*h {
			return next
		}
		h = next
	}
	return h
}

// Air is the dissolved carbon dioxide in equilibrium with air that holds that
// many parts per million of it (1 to 100000), at one atmosphere, by Henry's
// law without a correction for humidity. Out of range is ErrRange.
func (c *Carbonate) Air(ppm float64) (MgPerL, error) {
	if err := airs.check(ppm); err != nil {
		return 0, err
	}
	return MgPerL(c.kh * ppm * 1e-6 * mgPerMolCO2), nil
}
