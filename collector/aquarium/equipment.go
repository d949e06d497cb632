package aquarium

import "time"

// Equipment is what keeps a tank alive and can kill it. Every part is
// optional, and so is every sensor id in it: an empty id means that lentic
// cannot see that, not that the machine has none.
type Equipment struct {
	CO2         *CO2
	TopOff      *TopOff
	Filters     []Filter
	Reservoir   *Reservoir
	Drain       *Drain
	Heater      *Heater
	Cooling     *Cooling
	Lights      *LightsSwitch
	Power       *PowerSupply
	Floor       *Floor
	Room        *Room
	WaterChange *WaterChange
	Dosers      []Doser
}

// CO2 is dosing under pH control: the valve opens above Target+Band and shuts
// below Target-Band.
type CO2 struct {
	PH           SensorID
	Target, Band float64  // pH
	Valve        SensorID // switch, what was commanded
	Hours        *Span    // nil: day and night
	Cylinder     *Cylinder
}

// Cylinder is weighed to tell what is left.
type Cylinder struct {
	Mass   SensorID
	TareKG float64
}

// TopOff replaces what evaporates.
type TopOff struct {
	Level     SensorID // level, 0 at the working mark
	BandMM    float64
	Low, High SensorID // float switches, instead of or beside Level
	Pump      SensorID // switch, what was commanded
	RateLH    float64
	From      SensorID // the volume it draws on
}

// Filter is one canister filter.
type Filter struct {
	ID           EquipmentKey
	Flow         SensorID
	RatedLH      float64
	ServiceLimit float64 // share of the flow after its last cleaning; 0 means 0.67
	Stops        []Stop
}

// Reservoir holds the stored reverse-osmosis water.
type Reservoir struct {
	Volume       SensorID
	CapacityL    float64
	Refill       SensorID
	ProductionLH float64
}

// Drain is the waste container with its own pump.
type Drain struct {
	Level                       SensorID
	StartMM, StopMM, OverflowMM float64 // mm above the container's bottom
	Pump                        SensorID
}

// Heater is switched to hold Target.
type Heater struct {
	Temperature SensorID
	Switch      SensorID
	Target      float64 // Cel
}

// Cooling is switched to hold Target.
type Cooling struct {
	Temperature SensorID
	Switch      SensorID
	Target      float64 // Cel
}

// LightsSwitch reports whether the lights are on.
type LightsSwitch struct{ Switch SensorID }

// PowerSupply reports mains at the tank.
type PowerSupply struct{ Mains SensorID }

// Floor reports water on the floor.
type Floor struct{ Wet SensorID }

// Room is the air around the tank.
type Room struct{ Temperature, Humidity, CO2 SensorID }

// WaterChange is an automatic change at set times.
type WaterChange struct {
	Out, In SensorID
	Litres  float64
	At      []WeekTime
}

// WeekTime is a time of day on one day of the week, or on each.
type WeekTime struct {
	Day   time.Weekday
	Daily bool
	At    Clock
}

// Doser is one dosing pump.
type Doser struct {
	ID       EquipmentKey
	Switch   SensorID
	MLPerDay float64
}
