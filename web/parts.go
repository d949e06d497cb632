package web

import "lentic/collector/aquarium"

// part is one part of a tank's equipment as the API gives it: what it is, the
// key alarms name it by, and the sensors that tell of it.
type part struct {
	Key     aquarium.EquipmentKey        `json:"key"`
	Kind    string                       `json:"kind"`
	Sensors map[string]aquarium.SensorID `json:"sensors"`
}

type named = map[string]aquarium.SensorID

// parts lists a tank's equipment. Parts without a sensor of their own stay.
func parts(e aquarium.Equipment) []part {
	out := []part{}
	add := func(kind string, key aquarium.EquipmentKey, sensors named) {
		for name, id := range sensors {
			if id == "" {
				delete(sensors, name)
			}
		}
		out = append(out, part{key, kind, sensors})
	}
	alone := func(kind string, there bool, sensors func() named) {
		if there {
			add(kind, aquarium.EquipmentKey(kind), sensors())
		}
	}
	alone("co2", e.CO2 != nil, func() named {
		n := named{"ph": e.CO2.PH, "valve": e.CO2.Valve}
		if e.CO2.Cylinder != nil {
			n["mass"] = e.CO2.Cylinder.Mass
		}
		return n
	})
	alone("top_off", e.TopOff != nil, func() named {
		return named{"level": e.TopOff.Level, "low": e.TopOff.Low, "high": e.TopOff.High, "pump": e.TopOff.Pump, "from": e.TopOff.From}
	})
	for _, f := range e.Filters {
		add("filter", f.ID, named{"flow": f.Flow})
	}
	alone("reservoir", e.Reservoir != nil, func() named {
		return named{"volume": e.Reservoir.Volume, "refill": e.Reservoir.Refill}
	})
	alone("drain", e.Drain != nil, func() named { return named{"level": e.Drain.Level, "pump": e.Drain.Pump} })
	alone("heater", e.Heater != nil, func() named {
		return named{"temperature": e.Heater.Temperature, "switch": e.Heater.Switch}
	})
	alone("cooling", e.Cooling != nil, func() named {
		return named{"temperature": e.Cooling.Temperature, "switch": e.Cooling.Switch}
	})
	alone("lights", e.Lights != nil, func() named { return named{"switch": e.Lights.Switch} })
	alone("power", e.Power != nil, func() named { return named{"mains": e.Power.Mains} })
	alone("floor", e.Floor != nil, func() named { return named{"wet": e.Floor.Wet} })
	alone("room", e.Room != nil, func() named {
		return named{"temperature": e.Room.Temperature, "humidity": e.Room.Humidity, "co2": e.Room.CO2}
	})
	alone("water_change", e.WaterChange != nil, func() named {
		return named{"out": e.WaterChange.Out, "in": e.WaterChange.In}
	})
	for _, d := range e.Dosers {
		add("doser", d.ID, named{"switch": d.Switch})
	}
	return out
}
