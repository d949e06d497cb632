package water

// Surface is an open water surface and the air over it.
type Surface struct {
	Water, Air Celsius
	Humidity   float64 // of the air, %RH
	Area       float64 // m2
	Draught    float64 // speed of the air over it, m/s
	// Activity is the factor for how much the water is stirred; 0 means
	// Still.
	Activity float64
}

// Still is the activity factor of an undisturbed surface (ASHRAE Handbook -
// HVAC Applications, unoccupied pool). Measurements found 0.74 of the formula
// (Smith, Lof & Jones 1998), so a tank's own rate lies between, and is to be
// learned from the tank.
const Still = 0.5

// Coefficients of the ASHRAE Handbook - HVAC Applications, indoor swimming
// pools, after Carrier (1918): w = A (pw - pa) (0.089 + 0.0782 V) / Y, in kg/s
// with m2, kPa, m/s and kJ/kg only.
const (
	evaporationStill   = 0.089
	evaporationDraught = 0.0782
)

// Evaporation is the water that leaves the surface, good to about 30 % on
// still water; negative where the air is so moist that it condenses. 0 to
// 50 Cel, 0 to 100 %RH, 0 to 5 m/s, an activity of 0 to 2, else ErrRange.
func (s Surface) Evaporation() (LitrePerHour, error) {
	if err := first(temperatures.check(float64(s.Water)), temperatures.check(float64(s.Air)),
		humidities.check(s.Humidity), surfaces.check(s.Area), draughts.check(s.Draught), stirrings.check(s.Activity)); err != nil {
		return 0, err
	}
	activity := s.Activity
	if activity == 0 {
		activity = Still
	}
	kPa := (vapour(s.Water) - vapour(s.Air)*s.Humidity/100) / 1000
	kgPerS := s.Area * kPa * (evaporationStill + evaporationDraught*s.Draught) / latentHeat(s.Water) * activity
	return LitrePerHour(kgPerS * 3600 / density(s.Water) * 1000), nil
}
