package sim

import "lentic/collector/water"

// Truth is how the tank really is, which its probes may not tell.
type Truth struct {
	PH, CO2, KH float64 // pH, mg/l, dKH
	Temperature float64 // Cel
	LevelMM     float64 // from the working mark
	Litres      float64 // in the tank
	ReservoirL  float64
	Water       Account // since Start
}

// Truth is how the tank is at the present instant.
func (t *Tank) Truth() Truth {
	return Truth{
		PH: t.carbon.ph, CO2: t.carbon.co2, KH: float64(water.MeqPerL(t.alkalinityPerL()).DegreeKH()),
		Temperature: t.heat.temperature, LevelMM: t.vessel.levelMM(), Litres: t.vessel.litres,
		ReservoirL: t.reservoir.litres, Water: t.vessel.account,
	}
}
