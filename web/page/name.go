package page

import (
	"strings"

	"lentic/collector/aquarium"
)

// role is what a sensor does at its tank, in the words of the page.
type role struct {
	name    string // "CO2 valve", "flow of filter a"
	short   string // at a line's end: "pH", "a"
	on, off string // of a switch: "open", "shut"
	mark    bool   // a level above the working mark
}

// roles tells what each sensor of a tank does, by the equipment that names it;
// a sensor that no equipment names goes by its quantity.
func roles(t *aquarium.Tank) map[aquarium.SensorID]role {
	m := map[aquarium.SensorID]role{CO2Estimate.ID: {name: "CO2, estimated", short: "CO2"}}
	if t == nil {
		return m
	}
	set := func(id aquarium.SensorID, r role) {
		if id == "" {
			return
		}
		if _, taken := m[id]; !taken {
			m[id] = r
		}
	}
	e := &t.Equipment
	if e.CO2 != nil {
		set(e.CO2.PH, role{name: "pH", short: "pH"})
		set(e.CO2.Valve, role{name: "CO2 valve", short: "valve", on: "open", off: "shut"})
		if e.CO2.Cylinder != nil {
			set(e.CO2.Cylinder.Mass, role{name: "CO2 cylinder", short: "cylinder"})
		}
	}
	waterRoles(e, set)
	for _, f := range e.Filters {
		if len(e.Filters) == 1 {
			set(f.Flow, role{name: "flow", short: "flow"})
			continue
		}
		set(f.Flow, role{name: "flow of filter " + string(f.ID), short: string(f.ID)})
	}
	machineRoles(e, set)
	for _, s := range t.Sensors {
		set(s.ID, plainRole(s))
	}
	return m
}

func waterRoles(e *aquarium.Equipment, set func(aquarium.SensorID, role)) {
	if e.TopOff != nil {
		set(e.TopOff.Level, role{name: "level", short: "level", mark: true})
		set(e.TopOff.Low, role{name: "low float", short: "low float", on: "in water", off: "dry"})
		set(e.TopOff.High, role{name: "high float", short: "high float", on: "in water", off: "dry"})
		set(e.TopOff.Pump, role{name: "top-off pump", short: "pump", on: "running", off: "off"})
	}
	if e.Reservoir != nil {
		set(e.Reservoir.Volume, role{name: "stored water", short: "stored"})
		set(e.Reservoir.Refill, role{name: "refill", short: "refill", on: "open", off: "shut"})
	}
	if e.Drain != nil {
		set(e.Drain.Level, role{name: "waste container", short: "waste"})
		set(e.Drain.Pump, role{name: "waste pump", short: "waste pump", on: "running", off: "off"})
	}
	if e.WaterChange != nil {
		set(e.WaterChange.Out, role{name: "water out", short: "out", on: "running", off: "off"})
		set(e.WaterChange.In, role{name: "water in", short: "in", on: "running", off: "off"})
	}
}

func machineRoles(e *aquarium.Equipment, set func(aquarium.SensorID, role)) {
	if e.Heater != nil {
		set(e.Heater.Temperature, role{name: "temperature", short: "water"})
		set(e.Heater.Switch, role{name: "heater", short: "heater", on: "on", off: "off"})
	}
	if e.Cooling != nil {
		set(e.Cooling.Temperature, role{name: "temperature", short: "water"})
		set(e.Cooling.Switch, role{name: "cooling", short: "cooling", on: "on", off: "off"})
	}
	if e.Lights != nil {
		set(e.Lights.Switch, role{name: "lights", short: "lights", on: "on", off: "off"})
	}
	if e.Power != nil {
		set(e.Power.Mains, role{name: "mains", short: "mains", on: "present", off: "gone"})
	}
	if e.Floor != nil {
		set(e.Floor.Wet, role{name: "floor", short: "floor", on: "wet", off: "dry"})
	}
	if e.Room != nil {
		set(e.Room.Temperature, role{name: "room temperature", short: "room"})
		set(e.Room.Humidity, role{name: "room humidity", short: "humidity"})
		set(e.Room.CO2, role{name: "room CO2", short: "room CO2"})
	}
	for _, d := range e.Dosers {
		set(d.Switch, role{name: "doser " + string(d.ID), short: string(d.ID), on: "running", off: "off"})
	}
}

func plainRole(s aquarium.Sensor) role {
	r := role{name: strings.ReplaceAll(string(s.ID), "-", " ")}
	switch s.Quantity {
	case aquarium.PH:
		r.name = "pH"
	case aquarium.Temperature:
		r.name = "temperature"
	case aquarium.Switch:
		r.on, r.off = "on", "off"
	}
	r.short = r.name
	return r
}
