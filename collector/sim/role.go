package sim

import "lentic/collector/aquarium"

// onOff is a switch's reading.
func onOff(on func(*Tank) bool) source {
	return func(t *Tank) float64 {
		if on(t) {
			return 1
		}
		return 0
	}
}

// roles tells what each sensor that has a part in the equipment looks at.
func roles(tank aquarium.Tank) map[aquarium.SensorID]source {
	m := map[aquarium.SensorID]source{}
	e := &tank.Equipment
	if c := e.CO2; c != nil {
		m[c.PH] = measuredPH
		m[c.Valve] = onOff(func(t *Tank) bool { return t.carbon.open })
		if y := c.Cylinder; y != nil {
			m[y.Mass] = func(t *Tank) float64 { return y.TareKG + max(0, t.carbon.cylinderKG) }
		}
	}
	if o := e.TopOff; o != nil {
		m[o.Level] = levelMM
		m[o.Low] = onOff(func(t *Tank) bool { return t.sensedMM() >= -t.bandMM() })
		m[o.High] = onOff(func(t *Tank) bool { return t.sensedMM() >= t.bandMM() })
		m[o.Pump] = onOff(func(t *Tank) bool { return t.vessel.topping })
	}
	for i, f := range e.Filters {
		m[f.Flow] = func(t *Tank) float64 { return t.filters[i].flow }
	}
	storeRoles(m, e)
	heatRoles(m, e)
	placeRoles(m, e)
	for i, d := range e.Dosers {
		m[d.Switch] = onOff(func(t *Tank) bool { return t.dosers[i].on })
	}
	delete(m, "")
	return m
}

func storeRoles(m map[aquarium.SensorID]source, e *aquarium.Equipment) {
	if r := e.Reservoir; r != nil {
		m[r.Volume] = func(t *Tank) float64 { return t.reservoir.litres }
		m[r.Refill] = onOff(func(t *Tank) bool { return t.reservoir.refilling })
	}
	if d := e.Drain; d != nil {
		m[d.Level] = func(t *Tank) float64 { return t.waste.mm }
		m[d.Pump] = onOff(func(t *Tank) bool { return t.waste.pumping })
	}
	if w := e.WaterChange; w != nil {
		m[w.Out] = onOff(func(t *Tank) bool { return t.change.stage == emptying && !t.trouble.dark })
		m[w.In] = onOff(func(t *Tank) bool { return t.change.stage == filling && !t.trouble.dark })
	}
}

func heatRoles(m map[aquarium.SensorID]source, e *aquarium.Equipment) {
	if h := e.Heater; h != nil {
		m[h.Temperature] = temperature
		m[h.Switch] = onOff(func(t *Tank) bool { return t.heat.heating })
	}
	if c := e.Cooling; c != nil {
		m[c.Temperature] = temperature
		m[c.Switch] = onOff(func(t *Tank) bool { return t.heat.cool })
	}
	if l := e.Lights; l != nil {
		m[l.Switch] = onOff((*Tank).lit)
	}
}

func placeRoles(m map[aquarium.SensorID]source, e *aquarium.Equipment) {
	if p := e.Power; p != nil {
		m[p.Mains] = onOff(func(t *Tank) bool { return !t.trouble.dark })
	}
	if f := e.Floor; f != nil {
		m[f.Wet] = onOff(func(t *Tank) bool { return t.trouble.wet || t.vessel.puddle > wetL })
	}
	if r := e.Room; r != nil {
		m[r.Temperature] = func(t *Tank) float64 { return t.room.temperature }
		m[r.Humidity] = func(t *Tank) float64 { return t.room.humidity }
		m[r.CO2] = func(t *Tank) float64 { return t.room.co2 }
	}
}

func measuredPH(t *Tank) float64  { return t.measuredPH() }
func levelMM(t *Tank) float64     { return t.readMM() }
func temperature(t *Tank) float64 { return t.heat.temperature }

// unassigned is what a sensor without a part in the equipment looks at: the
// tank itself, as far as it has such a thing.
func unassigned(q aquarium.Quantity) source {
	switch q {
	case aquarium.PH:
		return measuredPH
	case aquarium.Temperature:
		return temperature
	case aquarium.Level:
		return levelMM
	case aquarium.Volume:
		return func(t *Tank) float64 { return t.vessel.litres }
	case aquarium.Flow:
		return func(t *Tank) float64 {
			sum := 0.0
			for i := range t.filters {
				sum += t.filters[i].flow
			}
			return sum
		}
	case aquarium.Conductivity:
		// About 100 uS/cm a meq, and as much again of other salts.
		// From memory.
		return func(t *Tank) float64 { return 200 * t.alkalinityPerL() }
	case aquarium.Humidity:
		return func(t *Tank) float64 { return t.room.humidity }
	case aquarium.Gas:
		return func(t *Tank) float64 { return t.room.co2 }
	case aquarium.Power:
		return func(t *Tank) float64 { return t.heat.powerW }
	case aquarium.Mass:
		return func(t *Tank) float64 { return max(0, t.carbon.cylinderKG) }
	case aquarium.Pressure:
		return func(*Tank) float64 { return 250 } // kPa behind a reducer
	}
	return func(*Tank) float64 { return 0 }
}

// filterOf is the place of the filter with that flow sensor, or -1.
func filterOf(tank aquarium.Tank, id aquarium.SensorID) int {
	for i, f := range tank.Equipment.Filters {
		if f.Flow == id {
			return i
		}
	}
	return -1
}
