package sim

import "lentic/collector/aquarium"

// trouble is what the planned faults come to at one moment.
type trouble struct {
	stuckOpen, commandedOpen float64 // times the normal flow, 0: not
	cylinderEmpty            bool
	drift                    float64 // pH per day
	drifting                 bool
	runaway                  bool
	runawayLH                float64 // 0: the pump's own
	siphonLH, leakLH         float64
	topOffDead, wet          bool
	siteDark, dark           bool
	heaterOn, heaterOff      bool
	coolingOff               bool
	roomK, roomPPM           float64
	lightsOn, lightsOff      bool
	refillDead, refillOn     bool
	drainDead                bool
	allSilent                bool
}

// plan brings trouble up to date; the faults change at few moments only, and
// between them nothing is looked at.
func (t *Tank) plan(at aquarium.Instant) {
	if at < t.nextPlan {
		return
	}
	t.nextPlan = 1<<63 - 1
	t.trouble = trouble{}
	for i := range t.filters {
		t.filters[i].stalled, t.filters[i].faultPerDay = false, 0
	}
	for i := range t.probes {
		t.probes[i].silent, t.probes[i].wasFrozen, t.probes[i].frozen = false, t.probes[i].frozen, false
	}
	for _, p := range t.faults {
		for _, edge := range [2]aquarium.Instant{p.At, p.Until} {
			if edge > at && edge < t.nextPlan {
				t.nextPlan = edge
			}
		}
		t.suffer(p, at)
	}
	for i := range t.probes {
		if p := &t.probes[i]; p.frozen && !p.wasFrozen {
			p.held = p.value(t, at)
		}
	}
}

// suffer takes one fault into account, if it is there at that moment.
func (t *Tank) suffer(p Planned, at aquarium.Instant) {
	if p.Fault == FilterStallAfterPowerCut && at >= p.At {
		t.filters[filterIndex(t.tank, p.Equipment)].stalled = true
	}
	if !p.active(at) {
		return
	}
	strength := p.Strength
	if strength == 0 {
		strength = faults[p.Fault].strength
	}
	s := &t.trouble
	switch p.Fault {
	case CO2StuckOpen:
		s.stuckOpen = strength
	case CO2CommandedOpen:
		s.commandedOpen = strength
	case CO2CylinderEmpty:
		s.cylinderEmpty = true
	case PHDrift:
		s.drift += strength
		s.drifting = true
	case TopOffRunaway:
		s.runaway, s.runawayLH = true, strength
	case TopOffSiphon:
		s.siphonLH = strength
	case TopOffDead:
		s.topOffDead = true
	case Leak:
		s.leakLH = strength
	case FloorWet:
		s.wet = true
	case FilterStall:
		t.filters[filterIndex(t.tank, p.Equipment)].stalled = true
	case FilterClog:
		t.filters[filterIndex(t.tank, p.Equipment)].faultPerDay += strength
	case PowerCut, FilterStallAfterPowerCut:
		s.dark, s.siteDark = true, true
	case TankPowerCut:
		s.dark = true
	case HeaterStuckOn:
		s.heaterOn = true
	case HeaterStuckOff:
		s.heaterOff = true
	case CoolingStuckOff:
		s.coolingOff = true
	case RoomTemperature:
		s.roomK += strength
	case RoomCO2:
		s.roomPPM += strength
	case LightsStuckOn:
		s.lightsOn = true
	case LightsStuckOff:
		s.lightsOff = true
	case RefillDead:
		s.refillDead = true
	case RefillRunaway:
		s.refillOn = true
	case DrainPumpDead:
		s.drainDead = true
	case SensorSilent, SensorFrozen:
		t.numb(p)
	}
}

// numb takes a sensor's voice or its life.
func (t *Tank) numb(p Planned) {
	if p.Sensor == "" {
		t.trouble.allSilent = true
		return
	}
	for i := range t.probes {
		if t.probes[i].sensor.ID != p.Sensor {
			continue
		}
		if p.Fault == SensorSilent {
			t.probes[i].silent = true
		} else {
			t.probes[i].frozen = true
		}
	}
}
