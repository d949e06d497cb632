package detect_test

import (
	"flag"
	"fmt"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/sim"
)

var lives = flag.Int("lives", 1, "how many tanks TestGasFaults lets each fault happen to")

// TestGasFaults: each fault of the gas and of the probes, at the mildest that the
// table's words cover and beyond, is told under its name and in time.
func TestGasFaults(t *testing.T) {
	const d = 24 * time.Hour
	at := start.Add(9*d + 13*time.Hour) // dosing hours, lights on
	night := start.Add(9*d + 3*time.Hour)
	type fault struct {
		name   string
		fault  sim.Planned
		cause  aquarium.Cause
		within time.Duration
	}
	var all []fault
	for _, x := range []float64{0.015, 0.03, 0.05, -0.02, -0.03, -0.05} {
		from := start.Add(9*d + 6*time.Hour)
		all = append(all, fault{fmt.Sprint("drift ", x), sim.Planned{Fault: sim.PHDrift, At: from, Strength: x}, aquarium.PHProbeDrift, time.Duration(0.2 / max(x, -x) * float64(d))})
	}
	for _, x := range []float64{1.2, 2, 4} {
		all = append(all, fault{fmt.Sprint("stuck open ", x), sim.Planned{Fault: sim.CO2StuckOpen, At: at, Strength: x}, aquarium.CO2ValveStuck, 100 * time.Minute},
			fault{fmt.Sprint("stuck open by night ", x), sim.Planned{Fault: sim.CO2StuckOpen, At: night, Strength: x / 2}, aquarium.CO2ValveStuck, 100 * time.Minute})
	}
	for _, x := range []float64{16, 30} { // what is milder may stay within 0.2 of the target
		all = append(all, fault{fmt.Sprint("surge ", x), sim.Planned{Fault: sim.CO2Surge, At: at, Strength: x}, aquarium.CO2Overshoot, 100 * time.Minute})
	}
	dawn := start.Add(9*d + 7*time.Hour + 50*time.Minute)
	for _, when := range []aquarium.Instant{at, dawn} {
		all = append(all,
			fault{"empty", sim.Planned{Fault: sim.CO2CylinderEmpty, At: when}, aquarium.CO2NotDosing, 90 * time.Minute},
			fault{"shut by hand", sim.Planned{Fault: sim.CO2ShutByHand, At: when}, aquarium.CO2NotDosing, 90 * time.Minute})
	}
	all = append(all, // at night pH 7 may be what the tank has: 30 min of dosing tell
		fault{"shorted", sim.Planned{Fault: sim.PHShorted, At: at}, aquarium.SensorImplausible, 30 * time.Minute},
		fault{"shorted", sim.Planned{Fault: sim.PHShorted, At: dawn}, aquarium.SensorImplausible, 40 * time.Minute},
		fault{"shorted", sim.Planned{Fault: sim.PHShorted, At: night}, aquarium.SensorImplausible, 5*time.Hour + 30*time.Minute})
	for _, when := range []aquarium.Instant{at, night} {
		all = append(all,
			fault{"unplugged", sim.Planned{Fault: sim.PHUnplugged, At: when}, aquarium.SensorImplausible, 30 * time.Minute},
			fault{"in air", sim.Planned{Fault: sim.PHInAir, At: when}, aquarium.SensorImplausible, 60 * time.Minute})
		for _, id := range []aquarium.SensorID{"ph", "water", "level", "flow-a", "gas", "moist"} {
			all = append(all, fault{"frozen " + string(id), sim.Planned{Fault: sim.SensorFrozen, Sensor: id, At: when}, aquarium.SensorStuck, 2 * time.Hour})
		}
	}
	all = append(all, fault{"line blocked", sim.Planned{Fault: sim.CO2LineBlocked, At: at}, aquarium.CO2NotDosing, 4 * d})
	for _, id := range []aquarium.SensorID{"water", "flow-a", "gas", "salts", "waste", "store", "cylinder"} {
		all = append(all, fault{"unit " + string(id), sim.Planned{Fault: sim.WrongUnit, Sensor: id, At: at}, aquarium.UnitSuspect, 15 * time.Minute})
	}
	for _, x := range []float64{5000, 6000, 30000} {
		all = append(all, fault{fmt.Sprint("room ", x), sim.Planned{Fault: sim.RoomCO2, At: at, Strength: x}, aquarium.RoomCO2High, 5 * time.Minute})
	}
	for i, c := range all {
		for _, every := range []time.Duration{time.Minute} {
			for seed := range uint64(*lives) {
				for _, blind := range []bool{false, true} {
					if *lives == 1 && blind != (i%2 == 1) {
						continue // each other one, for time's sake
					}
					t.Run(fmt.Sprint(c.name, "@", c.fault.At.Sub(start).Hours(), "/", every, "/", seed, "/blind ", blind), func(t *testing.T) {
						l := life{seen: furnished(), inside: furnished(), seed: seed + 20, every: every, lasts: c.fault.At.Sub(start) + max(4*time.Hour, c.within+d), faults: []sim.Planned{c.fault}}
						if blind {
							l.seen = blinded(l.seen)
						}
						l.visits = visits(c.fault.At.Sub(start))
						var told time.Duration
						var also []aquarium.Transition
						for _, x := range l.play() {
							switch {
							case x.Event != aquarium.Raised && x.Event != aquarium.Renamed:
							case x.Identity.Cause == c.cause && told == 0:
								told = x.At.Sub(c.fault.At)
							case x.Identity.Cause != c.cause && x.At < c.fault.At.Add(c.within+time.Hour):
								also = append(also, x)
							}
						}
						if told <= 0 || told > c.within {
							t.Errorf("%s told after %v, want within %v:%s", c.cause, told, c.within, say(also))
						} else {
							t.Logf("%v (%.2f)%s", told, told.Hours()/c.within.Hours(), say(also))
						}
					})
				}
			}
		}
	}
}
