package sim

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// after is the tank some hours after midnight with one fault, and the same tank
// without it.
func after(h float64, p Planned) (faulty, healthy *Tank) {
	faulty, healthy = start(Options{Faults: []Planned{p}}), start(Options{})
	faulty.Advance(at(h))
	healthy.Advance(at(h))
	return faulty, healthy
}

func must(t *testing.T, k *Tank, id aquarium.SensorID) float64 {
	t.Helper()
	v, ok := reading(k, id)
	if !ok {
		t.Fatalf("no reading of %s", id)
	}
	return v
}

func TestStuckValveCrashesThePH(t *testing.T) {
	k, _ := after(15, Planned{Fault: CO2StuckOpen, At: at(14)})
	between(t, "pH after an hour", must(t, k, "ph"), 6.05, 6.35)
	between(t, "valve commanded shut", must(t, k, "valve"), 0, 0)
	k.Advance(at(16))
	between(t, "pH after two hours", must(t, k, "ph"), 5.9, 6.15)

	k, _ = after(4, Planned{Fault: CO2StuckOpen, At: at(2), Strength: 1})
	between(t, "pH at night, at the normal flow", must(t, k, "ph"), 6.2, 6.6)
	between(t, "valve commanded shut at night", must(t, k, "valve"), 0, 0)

	k, _ = after(16, Planned{Fault: CO2CommandedOpen, At: at(14), Until: at(16)})
	between(t, "pH with the valve commanded open", must(t, k, "ph"), 6.1, 6.4)
	k.Advance(at(15.9))
	between(t, "valve after the fault's end", must(t, k, "valve"), 0, 0)

	k, _ = after(18, Planned{Fault: CO2Leak, At: at(16)})
	between(t, "pH an hour after the hours, of a valve that leaks", must(t, k, "ph"), 6.2, 6.5)

	k, _ = after(15, Planned{Fault: CO2CommandedOpen, At: at(14)})
	between(t, "valve commanded open", must(t, k, "valve"), 1, 1)
}

func TestEmptyCylinderDoesNotDose(t *testing.T) {
	k, _ := after(12, Planned{Fault: CO2CylinderEmpty, At: at(7)})
	between(t, "pH at noon", must(t, k, "ph"), 7.1, 7.8)
	between(t, "valve", must(t, k, "valve"), 1, 1)
}

func TestDriftLeadsTheControlAstray(t *testing.T) {
	k, _ := after(10*24+16, Planned{Fault: PHDrift, At: at(0)})
	between(t, "pH shown, held at the target", must(t, k, "ph"), 6.5, 6.7)
	between(t, "pH in truth", k.Truth().PH-(10+16.0/24)*0.03, 6.5, 6.7)
}

func TestTopOffRunsAway(t *testing.T) {
	k, _ := after(5.25, Planned{Fault: TopOffRunaway, At: at(5)})
	between(t, "pump", must(t, k, "topoff"), 1, 1)
	// 90 l/h for a quarter of an hour on 0.9 l/mm is 25 mm.
	base := start(Options{})
	base.Advance(at(5))
	between(t, "rise, mm", k.Truth().LevelMM-base.Truth().LevelMM, 24.5, 25.3)
	between(t, "floor", must(t, k, "floor"), 0, 0)
	k.Advance(at(6))
	between(t, "level at the rim, mm", must(t, k, "level"), 44, 46)
	between(t, "floor once it spills", must(t, k, "floor"), 1, 1)
	k.Advance(at(24))
	between(t, "litres never made", k.Truth().ReservoirL, 0, 200)
}

func TestSiphonFillsWithThePumpOff(t *testing.T) {
	k, healthy := after(7, Planned{Fault: TopOffSiphon, At: at(5)})
	between(t, "pump", must(t, k, "topoff"), 0, 0)
	between(t, "rise in two hours at 12 l/h, mm", k.Truth().LevelMM-healthy.Truth().LevelMM, 24/0.9-0.3, 24/0.9+0.3)
	between(t, "what the reservoir lost, l", healthy.Truth().ReservoirL-k.Truth().ReservoirL, 23.9, 24.1)
}

func TestTopOffDead(t *testing.T) {
	k, _ := after(6*24, Planned{Fault: TopOffDead, At: at(0)})
	between(t, "pump commanded", must(t, k, "topoff"), 1, 1)
	between(t, "level, mm", must(t, k, "level"), -25, -8)
}

func TestLeak(t *testing.T) {
	k, _ := after(8, Planned{Fault: Leak, At: at(6)})
	between(t, "loss in two hours at 4 l/h, l", k.Truth().Water.Leaked, 7.9, 8.1)
	between(t, "floor", must(t, k, "floor"), 1, 1)
	between(t, "topped up meanwhile, l", k.Truth().Water.In, 4, 9)

	k = start(Options{Faults: []Planned{{Fault: Leak, At: at(6)}, {Fault: TopOffDead, At: at(0)}}})
	k.Advance(at(16))
	between(t, "level after ten hours without top-off, mm", must(t, k, "level"), -46, -41)
}

func TestFilterFaults(t *testing.T) {
	k, _ := after(6, Planned{Fault: FilterStall, Equipment: "a", At: at(5), Until: at(7)})
	between(t, "stalled", must(t, k, "flow-a"), 0, 0)
	between(t, "the other", must(t, k, "flow-b"), 800, 1100)
	k.Advance(at(7.1))
	between(t, "turning again", must(t, k, "flow-a"), 800, 1100)

	k, healthy := after(5*24, Planned{Fault: FilterClog, Equipment: "b", At: at(0)})
	between(t, "flow left after five days", k.filters[1].flow/healthy.filters[1].flow, 0.59, 0.61)
}

func TestPowerCut(t *testing.T) {
	cut := Planned{Fault: FilterStallAfterPowerCut, Equipment: "a", At: at(11), Until: at(11.5)}
	k, _ := after(11.25, cut)
	if k.Mains() {
		t.Error("the gateway still has mains")
	}
	for _, id := range []aquarium.SensorID{"mains", "flow-a", "flow-b", "valve", "topoff", "heat", "light", "refill"} {
		between(t, string(id)+" in the dark", must(t, k, id), 0, 0)
	}
	k.Advance(at(12))
	if !k.Mains() {
		t.Error("mains did not come back")
	}
	between(t, "filter a does not restart", must(t, k, "flow-a"), 0, 0)
	between(t, "filter b does", must(t, k, "flow-b"), 800, 1100)
	between(t, "mains", must(t, k, "mains"), 1, 1)

	k, _ = after(11.25, Planned{Fault: TankPowerCut, At: at(11)})
	if !k.Mains() {
		t.Error("a fuse of the tank took the site's mains")
	}
	between(t, "mains at the tank", must(t, k, "mains"), 0, 0)
}

func TestHeatFaults(t *testing.T) {
	k, _ := after(8, Planned{Fault: HeaterStuckOn, At: at(2)})
	between(t, "six hours too long, Cel", must(t, k, "water"), 25, 27)
	between(t, "commanded off", must(t, k, "heat"), 0, 0)

	k, _ = after(14, Planned{Fault: HeaterStuckOff, At: at(2)})
	between(t, "twelve hours without heat, Cel", must(t, k, "water"), 21.5, 24)
	between(t, "commanded on", must(t, k, "heat"), 1, 1)

	hot := Planned{Fault: RoomTemperature, At: at(0), Strength: 14}
	k, healthy := after(30, hot)
	between(t, "the room, K warmer", must(t, k, "air")-must(t, healthy, "air"), 13.7, 14.3)
	between(t, "water cooled in a hot room, Cel", must(t, k, "water"), 26.5, 28)
	k = start(Options{Faults: []Planned{hot, {Fault: CoolingStuckOff, At: at(0)}}})
	k.Advance(at(30))
	between(t, "and not cooled", must(t, k, "water"), 28, 33)
	between(t, "cooling commanded", must(t, k, "chill"), 1, 1)
}

func TestStoreFaults(t *testing.T) {
	k, _ := after(14*24, Planned{Fault: RefillDead, At: at(0)})
	between(t, "refill commanded", must(t, k, "refill"), 1, 1)
	between(t, "the store goes down, l", must(t, k, "store"), 100, 159.9)

	k, _ = after(4, Planned{Fault: RefillRunaway, At: at(2)})
	between(t, "refill", must(t, k, "refill"), 1, 1)
	between(t, "over full, l", must(t, k, "store"), 225, 231)
	between(t, "floor", must(t, k, "floor"), 1, 1)

	k = start(Options{Faults: []Planned{{Fault: RefillRunaway, At: at(2)}, {Fault: DrainPumpDead, At: at(2)}}})
	k.Advance(at(5))
	between(t, "waste pump commanded", must(t, k, "waste-pump"), 1, 1)
	between(t, "waste at its rim, mm", must(t, k, "waste"), 398, 401)
}

func TestRoomAndLights(t *testing.T) {
	k, healthy := after(12, Planned{Fault: RoomCO2, At: at(11)})
	between(t, "ppm on top", must(t, k, "gas")-must(t, healthy, "gas"), 5950, 6050)
	k, _ = after(12, Planned{Fault: LightsStuckOff, At: at(11)})
	between(t, "light at noon", must(t, k, "light"), 0, 0)
	k, _ = after(22, Planned{Fault: LightsStuckOn, At: at(11)})
	between(t, "light at night", must(t, k, "light"), 1, 1)
	k, _ = after(12, Planned{Fault: FloorWet, At: at(11)})
	between(t, "floor", must(t, k, "floor"), 1, 1)
}

func TestSensorFaults(t *testing.T) {
	k, healthy := after(6, Planned{Fault: SensorSilent, Sensor: "ph", At: at(5), Until: at(7)})
	if _, ok := reading(k, "ph"); ok {
		t.Error("a silent sensor speaks")
	}
	if got, want := len(k.Readings()), len(healthy.Readings())-1; got != want {
		t.Errorf("got %d readings, want %d", got, want)
	}
	k.Advance(at(7))
	must(t, k, "ph")

	k, _ = after(6, Planned{Fault: SensorSilent, At: at(5)})
	if n := len(k.Readings()); n != 0 {
		t.Errorf("got %d readings of a silent tank, want none", n)
	}

	k = start(Options{Faults: []Planned{{Fault: SensorFrozen, Sensor: "ph", At: at(8.25)}}})
	k.Advance(at(8.25))
	held := must(t, k, "ph")
	watch(k, "ph", hours(20), func(h time.Duration, v float64) {
		if v != held {
			t.Fatalf("frozen at %g, at %v it reads %g", held, h, v)
		}
	})
	if math.Abs(k.Truth().PH-held) < 0.02 {
		t.Error("the water stood still with its sensor")
	}
}

func TestPlansAreChecked(t *testing.T) {
	for _, c := range []struct {
		name string
		plan Planned
		want string
	}{
		{"unknown fault", Planned{Fault: "flood"}, `fault "flood" is not known`},
		{"ends before it begins", Planned{Fault: Leak, At: at(2), Until: at(1)}, "ends at"},
		{"negative strength", Planned{Fault: Leak, Strength: -1}, "want 0 or more"},
		{"no such filter", Planned{Fault: FilterStall, Equipment: "c"}, `no filter "c"`},
		{"which of two filters", Planned{Fault: FilterClog}, `no filter ""`},
		{"no such sensor", Planned{Fault: SensorSilent, Sensor: "ear"}, `sensor "ear"`},
		{"frozen what", Planned{Fault: SensorFrozen}, "want a sensor"},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := c.plan.Check(atrium())
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Fatalf("got %v, want %q in it", err, c.want)
			}
			defer func() {
				if recover() == nil {
					t.Error("New took it all the same")
				}
			}()
			start(Options{Faults: []Planned{c.plan}})
		})
	}
	if err := (Planned{Fault: SensorSilent, Sensor: "ear"}).Check(atrium()); !errors.Is(err, aquarium.ErrUnknownSensor) {
		t.Errorf("got %v, want ErrUnknownSensor", err)
	}
	if err := (Planned{Fault: PHDrift, Strength: 0.1}).Check(atrium()); err != nil {
		t.Error(err)
	}
}
