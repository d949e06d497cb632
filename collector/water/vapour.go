package water

import "math"

// vapour is the saturation pressure of water vapour in Pa: Hyland & Wexler
// (1983), equation 6 of the ASHRAE Handbook - Fundamentals 2017, chapter 1;
// 0 to 200 Cel.
func vapour(t Celsius) float64 {
	k := t.kelvin()
	return math.Exp(-5.8002206e3/k + 1.3914993 + k*(-4.8640239e-2+k*(4.1764768e-5-k*1.4452093e-8)) + 6.5459673*math.Log(k))
}

// VapourPressure is the saturation pressure of water vapour over water, 0 to
// 50 Cel, else ErrRange.
func VapourPressure(t Celsius) (Pascal, error) {
	if err := temperatures.check(float64(t)); err != nil {
		return 0, err
	}
	return Pascal(vapour(t)), nil
}

// latentHeat is that of vaporisation in kJ/kg, a straight line through the
// values of IAPWS-95 at 5 and 35 Cel (testdata/water_properties.csv); within
// 0.4 kJ/kg from 0 to 50 Cel.
func latentHeat(t Celsius) float64 { return 2489.04 - (2489.04-2417.91)/30*(float64(t)-5) }

// LatentHeat is that of vaporisation in kJ/kg, 0 to 50 Cel, else ErrRange.
func LatentHeat(t Celsius) (float64, error) {
	if err := temperatures.check(float64(t)); err != nil {
		return 0, err
	}
	return latentHeat(t), nil
}
