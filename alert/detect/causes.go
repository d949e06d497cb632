package detect

import "lentic/collector/aquarium"

// cause is one cause: how it is judged, and why it cannot be at a tank.
type cause struct {
	name  aquarium.Cause
	judge judge
	// blind says in words why the cause cannot be judged at a tank, "" where
	// it can.
	blind func(t *aquarium.Tank) string
}

// table lists what is judged, parents before their children and a trouble's
// names in the order of the chain.
func table() []cause {
	return []cause{
		{aquarium.PowerLost, judge{site: powerLost}, blindPower},
		{aquarium.TankPowerLost, eachTank(tankPowerLost), blindTankPower},
		{aquarium.SiteSilent, judge{site: siteSilent}, nowhere},
		{aquarium.GatewayClockWrong, judge{site: gatewayClock}, nowhere},
		{aquarium.VisitUndeclared, eachTank(visitUndeclared), blindVisit},
		{aquarium.FloorWet, eachTank(floorWet), blindFloor},
		{aquarium.RoomCO2High, eachTank(roomCO2High), blindRoomCO2},
		{aquarium.SensorImplausible, eachTank(sensorImplausible), nowhere},
		{aquarium.SensorStuck, eachTank(sensorStuck), blindStuck},
		{aquarium.UnitSuspect, eachTank(unitSuspect), blindUnit},
		{aquarium.CO2ValveStuck, eachTank(co2ValveStuck), blindCO2},
		{aquarium.CO2Overshoot, eachTank(co2Overshoot), blindCO2},
		{aquarium.PHFalling, eachTank(phFalling), blindPHBounds},
		{aquarium.PHLow, eachTank(phLow), blindPHBounds},
		{aquarium.PHHigh, eachTank(phHigh), blindPHBounds},
		{aquarium.CO2NotDosing, eachTank(co2NotDosing), blindNotDosing},
		{aquarium.PHProbeDrift, eachTank(phProbeDrift), blindDrift},
		{aquarium.TopOffRunaway, eachTank(topOffRunaway), blindTopOff},
		{aquarium.WaterChangeIncomplete, eachTank(waterChangeIncomplete), blindChange},
		{aquarium.WaterLoss, eachTank(waterLoss), blindLoss},
		{aquarium.TopOffFailed, eachTank(topOffFailed), blindTopOffFailed},
		{aquarium.ReservoirOverfull, eachTank(reservoirOverfull), blindOverfull},
		{aquarium.ReservoirNotRefilling, eachTank(reservoirNotRefilling), blindRefilling},
		{aquarium.ReservoirLow, eachTank(reservoirLow), blindReservoir},
		{aquarium.DrainOverflow, eachTank(drainOverflow), blindOverflow},
		{aquarium.DrainPumpFailed, eachTank(drainPumpFailed), blindDrainPump},
		{aquarium.FilterStalled, eachTank(filterStalled), blindFilters},
		{aquarium.FilterClogging, eachTank(filterClogging), blindFilters},
		{aquarium.TemperatureHigh, eachTank(temperatureHigh), blindTemperature},
		{aquarium.TemperatureLow, eachTank(temperatureLow), blindTemperature},
		{aquarium.HeaterStuckOn, eachTank(heaterStuckOn), blindHeater},
		{aquarium.HeaterNotHeating, eachTank(heaterNotHeating), blindHeater},
		{aquarium.CoolingNotCooling, eachTank(coolingNotCooling), blindCooling},
		{aquarium.LightsNotOn, eachTank(lightsNotOn), blindLights},
		{aquarium.LightsStuckOn, eachTank(lightsStuckOn), blindLights},
		{aquarium.DoserNotDosing, eachTank(doserNotDosing), blindDosers},
		{aquarium.SensorSilent, eachTank(sensorSilent), nowhere},
		{aquarium.Unusual, eachTank(unusual), blindUnusual},
	}
}

// judge looks at a site or, where it is about tanks, at one of them.
type judge struct {
	site func(v *view)
	tank func(v *view, t *tank)
}

func eachTank(of func(v *view, t *tank)) judge { return judge{tank: of} }

// judgeAll looks at every cause. Those in a row that are about tanks look at one
// tank after the other, for what they look at is near each other then.
func (v *view) judgeAll() {
	v.judging = true
	for all := v.w.causes; v.rank < len(all); v.rank++ {
		if all[v.rank].judge.site != nil {
			all[v.rank].judge.site(v)
			continue
		}
		first, end := v.rank, v.rank
		for end < len(all) && all[end].judge.tank != nil {
			end++
		}
		for _, t := range v.w.tanks {
			v.tank, t.gasKnown = t, false
			for i := first; i < end; i++ {
				v.rank = i
				all[i].judge.tank(v, t)
			}
		}
		v.tank, v.rank = nil, end-1
	}
	v.rank, v.judging = 0, false
}

func nowhere(*aquarium.Tank) string { return "" }

// Judged lists the causes that this version judges.
func Judged() []aquarium.Cause {
	var cs []aquarium.Cause
	for _, c := range table() {
		cs = append(cs, c.name)
	}
	return cs
}

// Seen says whether a cause can be seen at a tank.
type Seen struct {
	Cause aquarium.Cause
	Blind string // why not, in words; "": it can
}

// Sight lists every cause but lentic's own, in the order of the manual, and why
// those that cannot be seen at the tank cannot.
func Sight(_ aquarium.Site, tank aquarium.Tank) []Seen {
	blind := map[aquarium.Cause]func(*aquarium.Tank) string{}
	for _, c := range table() {
		blind[c.name] = c.blind
	}
	var all []Seen
	for _, name := range aquarium.Causes() {
		if name.Own() {
			continue
		}
		s := Seen{Cause: name, Blind: "not judged by this version"}
		if why := blind[name]; why != nil {
			s.Blind = why(&tank)
		}
		all = append(all, s)
	}
	return all
}
