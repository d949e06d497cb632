package water

// density is that of pure, air-free water at one atmosphere in kg/m3: Kell,
// G.S. (1975) J. Chem. Eng. Data 20, 97-105, equation 16; 0 to 150 Cel. Within
// 0.01 kg/m3 of IAPWS-95 (testdata/water_properties.csv).
func density(t Celsius) float64 {
	x := float64(t)
	return (999.83952 + x*(16.945176+x*(-7.9870401e-3+x*(-46.170461e-6+x*(105.56302e-9-x*280.54253e-12))))) /
		(1 + 16.879850e-3*x)
}

// Density is that of pure water at one atmosphere in kg/m3, 0 to 50 Cel, else
// ErrRange.
func Density(t Celsius) (float64, error) {
	if err := temperatures.check(float64(t)); err != nil {
		return 0, err
	}
	return density(t), nil
}
