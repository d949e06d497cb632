package sim

import (
	"lentic/collector/aquarium"
	"lentic/collector/water"
)

// Common practice, no source, but for the first.
const (
	// joulePerLitreK is the heat capacity of water, 4.18 kJ/(kg K) at 25 Cel
	// (from memory), with a tenth more for glass and gravel.
	joulePerLitreK  = 4180 * 1.1
	lossWM2K        = 5.0 // through glass and surface, by the square metre
	heaterWPerL     = 0.8
	coolerWPerL     = 0.6
	lightsWPerL     = 0.12 // what of it ends in the water
	pumpW           = 8.0  // each filter
	heaterSwing     = 0.2  // K to either side of the target
	defaultWaterCel = 24.0
)

// heat is the tank's thermal mass.
type heat struct {
	temperature   float64 // Cel
	heating, cool bool    // commanded
	lossWK        float64
	powerW        float64 // drawn by it all
}

func newHeat(tank aquarium.Tank) heat {
	s := tank.Size
	h := heat{temperature: defaultWaterCel}
	h.lossWK = lossWM2K * 2 * (s.LengthCM*s.WidthCM + s.LengthCM*s.FillCM + s.WidthCM*s.FillCM) / 10000
	if e := tank.Equipment.Heater; e != nil {
		h.temperature = e.Target
	}
	return h
}

// stepHeat commands heater and cooling and balances what comes and goes.
func (t *Tank) stepHeat() {
	h, s := &t.heat, &t.trouble
	t.commandHeat()
	litres := t.vessel.litres
	watt, drawn := 0.0, 0.0
	if t.heats() {
		watt += s.heaterShare * heaterWPerL * t.tank.Size.NetL()
	}
	for i := range t.filters {
		if t.filters[i].flow > 0 {
			watt += pumpW
		}
	}
	drawn = watt
	if t.lit() {
		watt += lightsWPerL * t.tank.Size.NetL()
		drawn += 4 * lightsWPerL * t.tank.Size.NetL()
	}
	if h.cool && !s.coolingOff {
		watt -= coolerWPerL * t.tank.Size.NetL()
		drawn += coolerWPerL * t.tank.Size.NetL() / 3
	}
	h.powerW = drawn
	watt -= h.lossWK * (h.temperature - t.room.temperature)
	watt -= t.vessel.evaporationLH * latentWhPerL
	h.temperature += watt * stepHours * 3600 / (joulePerLitreK * litres)
	h.temperature = min(49, max(0.5, h.temperature))
}

// latentWhPerL is the heat a litre of water takes with it: 2444 kJ/kg at 24 Cel
// (IAPWS-95), in Wh.
const latentWhPerL = 2444.05 / 3.6

func (t *Tank) commandHeat() {
	h, s := &t.heat, &t.trouble
	if e := t.tank.Equipment.Heater; e != nil {
		h.heating = (thermostat(h.heating, h.temperature, e.Target) || s.heatOn) && !s.heatOff && !s.heatUnplugs && !s.dark
	}
	if e := t.tank.Equipment.Cooling; e != nil {
		h.cool = !thermostat(!h.cool, h.temperature, e.Target) && !t.trouble.dark
	}
}

// heats reports whether the heater is warm.
func (t *Tank) heats() bool {
	s := &t.trouble
	return t.tank.Equipment.Heater != nil && !s.dark && !s.heaterOff && !s.heatUnplugs && (t.heat.heating || s.heaterOn)
}

// thermostat switches on below its swing, off above it, and holds between.
func thermostat(on bool, is, target float64) bool {
	switch {
	case is < target-heaterSwing:
		return true
	case is > target+heaterSwing:
		return false
	}
	return on
}

// evaporation is what leaves the open surface in l/h, never negative.
func (t *Tank) evaporation() float64 {
	s := t.tank.Size
	e, err := water.Surface{
		Water: water.Celsius(t.heat.temperature), Air: water.Celsius(min(50, max(0, t.room.temperature))),
		Humidity: t.room.humidity, Area: s.LengthCM * s.WidthCM / 10000, Draught: max(t.room.draught, t.trouble.draught),
	}.Evaporation()
	if err != nil || e < 0 {
		return 0
	}
	return float64(e)
}
