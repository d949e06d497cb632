package sim

import (
	"fmt"

	"lentic/collector/aquarium"
)

// Fault is something that goes wrong, by the name a plan gives it.
type Fault string

const (
	// CO2StuckOpen: the valve does not shut. Its switch goes on telling
	// what was commanded, soon shut. Strength: how many times the normal
	// flow passes; default 2.
	CO2StuckOpen Fault = "co2-stuck-open"
	// CO2CommandedOpen: the controller holds the valve open whatever the pH
	// and the hour, and its switch says so. Strength as CO2StuckOpen,
	// default 1.
	CO2CommandedOpen Fault = "co2-commanded-open"
	// CO2CylinderEmpty: the valve is commanded, nothing flows.
	CO2CylinderEmpty Fault = "co2-cylinder-empty"
	// PHDrift: the electrode drifts and the control follows it. Strength:
	// pH per day, of either sign; default -0.03.
	PHDrift Fault = "ph-drift"
	// TopOffRunaway: the pump runs on and its switch says so. It keeps its
	// rate; Strength: l/h instead.
	TopOffRunaway Fault = "topoff-runaway"
	// TopOffSiphon: water comes through the top-off line with the pump off.
	// Strength: l/h; default 12.
	TopOffSiphon Fault = "topoff-siphon"
	// TopOffDead: the pump is commanded and does not run.
	TopOffDead Fault = "topoff-dead"
	// Leak: the tank loses water to the floor. Strength: l/h; default 4.
	Leak Fault = "leak"
	// FloorWet: the floor's sensor is wet, from wherever.
	FloorWet Fault = "floor-wet"
	// FilterStall: the filter in Equipment does not turn.
	FilterStall Fault = "filter-stall"
	// FilterStallAfterPowerCut: a PowerCut from At to Until after which the
	// filter in Equipment does not start again, for good.
	FilterStallAfterPowerCut Fault = "filter-stall-after-power-cut"
	// FilterClog: the filter in Equipment clogs steadily from At on.
	// Strength: the share of its clean flow lost per day, default 0.08. Its
	// end is a cleaning.
	FilterClog Fault = "filter-clog"
	// PowerCut: no mains at the site; a gateway with a battery lives.
	PowerCut Fault = "power-cut"
	// TankPowerCut: no mains at this tank only.
	TankPowerCut Fault = "tank-power-cut"
	// HeaterStuckOn: it heats whatever its switch says.
	HeaterStuckOn Fault = "heater-stuck-on"
	// HeaterStuckOff: it is commanded and does not heat.
	HeaterStuckOff Fault = "heater-stuck-off"
	// CoolingStuckOff: it is commanded and does not cool.
	CoolingStuckOff Fault = "cooling-stuck-off"
	// RoomTemperature: the room is warmer than it should be, or colder.
	// Strength: K, of either sign; default 10.
	RoomTemperature Fault = "room-temperature"
	// RoomCO2: gas escapes into the room. Strength: ppm on top; default
	// 6000.
	RoomCO2 Fault = "room-co2"
	// LightsStuckOn and LightsStuckOff: against their times, and the switch
	// says so.
	LightsStuckOn  Fault = "lights-stuck-on"
	LightsStuckOff Fault = "lights-stuck-off"
	// RefillDead: the reservoir's refilling is commanded, nothing comes.
	RefillDead Fault = "refill-dead"
	// RefillRunaway: it keeps coming and the switch says so.
	RefillRunaway Fault = "refill-runaway"
	// DrainPumpDead: the waste pump is commanded and does not pump.
	DrainPumpDead Fault = "drain-pump-dead"
	// SensorSilent: no readings of Sensor; of the whole tank if it is empty.
	SensorSilent Fault = "sensor-silent"
	// SensorFrozen: Sensor repeats the value it had at At.
	SensorFrozen Fault = "sensor-frozen"
)

// traits is what a fault needs to be planned.
type traits struct {
	strength float64 // default; 0: has none, or takes the tank's own
	filter   bool    // needs a filter in Equipment
	signed   bool    // Strength may be negative
}

var faults = map[Fault]traits{
	CO2StuckOpen:     {strength: 2},
	CO2CommandedOpen: {strength: 1}, CO2CylinderEmpty: {},
	PHDrift:       {strength: -0.03, signed: true},
	TopOffRunaway: {}, TopOffSiphon: {strength: 12}, TopOffDead: {},
	Leak: {strength: 4}, FloorWet: {},
	FilterStall: {filter: true}, FilterStallAfterPowerCut: {filter: true},
	FilterClog: {strength: 0.08, filter: true},
	PowerCut:   {}, TankPowerCut: {},
	HeaterStuckOn: {}, HeaterStuckOff: {}, CoolingStuckOff: {},
	RoomTemperature: {strength: 10, signed: true}, RoomCO2: {strength: 6000},
	LightsStuckOn: {}, LightsStuckOff: {},
	RefillDead: {}, RefillRunaway: {}, DrainPumpDead: {},
	SensorSilent: {}, SensorFrozen: {},
}

// Planned is a fault from At up to and without Until; a zero Until means for
// good.
type Planned struct {
	Fault     Fault
	At, Until aquarium.Instant
	Equipment aquarium.EquipmentKey // the filter's id; may be empty with one filter
	Sensor    aquarium.SensorID     // of the sensor faults
	Strength  float64               // as the fault says; 0 means its default
}

// Check reports why the fault cannot be planned for that tank, or nil: an
// unknown fault, filter or sensor, an end before its beginning, a negative
// strength.
func (p Planned) Check(tank aquarium.Tank) error {
	f, ok := faults[p.Fault]
	switch {
	case !ok:
		return fmt.Errorf("tank %q: fault %q is not known", tank.ID, p.Fault)
	case p.Until != 0 && p.Until <= p.At:
		return fmt.Errorf("tank %q, fault %q: ends at %v, not after its beginning at %v", tank.ID, p.Fault, p.Until, p.At)
	case p.Strength < 0 && !f.signed:
		return fmt.Errorf("tank %q, fault %q: strength %g: want 0 or more", tank.ID, p.Fault, p.Strength)
	case f.filter && filterIndex(tank, p.Equipment) < 0:
		return fmt.Errorf("tank %q, fault %q: no filter %q", tank.ID, p.Fault, p.Equipment)
	case p.Sensor != "" && tank.Sensor(p.Sensor) == nil:
		return fmt.Errorf("tank %q, fault %q: sensor %q: %w", tank.ID, p.Fault, p.Sensor, aquarium.ErrUnknownSensor)
	case p.Fault == SensorFrozen && p.Sensor == "":
		return fmt.Errorf("tank %q, fault %q: want a sensor", tank.ID, p.Fault)
	}
	return nil
}

// filterIndex is the place of the filter of that id, of the only one if the id
// is empty, else -1.
func filterIndex(tank aquarium.Tank, id aquarium.EquipmentKey) int {
	if id == "" && len(tank.Equipment.Filters) == 1 {
		return 0
	}
	for i, f := range tank.Equipment.Filters {
		if f.ID == id {
			return i
		}
	}
	return -1
}

func (p Planned) active(at aquarium.Instant) bool {
	return at >= p.At && (p.Until == 0 || at < p.Until)
}
