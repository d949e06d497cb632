package sim

import (
	"fmt"

	"lentic/collector/aquarium"
)

// Planned is a fault from At up to and without Until; a zero Until means for
// good.
type Planned struct {
	Fault     Fault
	At, Until aquarium.Instant
	Equipment aquarium.EquipmentKey // the filter's or doser's id; may be empty with one
	Sensor    aquarium.SensorID     // of the sensor faults
	Strength  float64               // as the fault says; 0 means its default
}

// Check reports why the fault cannot be planned for that tank, or nil: an
// unknown fault, filter, doser or sensor, an end before its beginning, a
// negative strength.
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
	case p.Fault == DoserDead && doserIndex(tank, p.Equipment) < 0:
		return fmt.Errorf("tank %q, fault %q: no doser %q", tank.ID, p.Fault, p.Equipment)
	case p.Sensor != "" && tank.Sensor(p.Sensor) == nil:
		return fmt.Errorf("tank %q, fault %q: sensor %q: %w", tank.ID, p.Fault, p.Sensor, aquarium.ErrUnknownSensor)
	case f.sensor && p.Sensor == "":
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

// doserIndex is the same of dosers.
func doserIndex(tank aquarium.Tank, id aquarium.EquipmentKey) int {
	if id == "" && len(tank.Equipment.Dosers) == 1 {
		return 0
	}
	for i, d := range tank.Equipment.Dosers {
		if d.ID == id {
			return i
		}
	}
	return -1
}

func (p Planned) active(at aquarium.Instant) bool {
	return at >= p.At && (p.Until == 0 || at < p.Until)
}
