package sim

import (
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

func TestLevelFaults(t *testing.T) {
	k, _ := after(6, Planned{Fault: LevelSlipped, At: at(5)})
	between(t, "read 12 mm too high", must(t, k, "level")-k.Truth().LevelMM, 11, 13)
	k, _ = after(8*24, Planned{Fault: LevelStuck, At: at(5)})
	if mm := k.Truth().LevelMM; math.Abs(mm-must(t, k, "level")) < 8 {
		t.Errorf("a stuck float: got %.1f mm in truth and %g shown, want the truth far away", mm, must(t, k, "level"))
	}
	k = start(Options{Faults: []Planned{{Fault: TopOffWeak, At: at(0)}}})
	ran, runs, was := 0, 0, 0.0
	watch(k, "topoff", hours(6*24), func(_ time.Duration, v float64) {
		ran += int(v)
		runs += int(max(0, v-was))
		was = v
	})
	// 7.2 l at 1.8 l/h less what evaporates meanwhile.
	between(t, "minutes of one run at a fiftieth of the rate", float64(ran)/float64(runs), 230, 300)
	k, _ = after(6, Planned{Fault: BurstHose, Equipment: "a", At: at(5)})
	between(t, "flow through the sensor", must(t, k, "flow-a"), 0, 0)
	between(t, "a third of the water and what the top-off adds is on the floor, l", k.Truth().Water.Leaked, 140, 235)
}

func TestStoreFaultsOfOtherKinds(t *testing.T) {
	used := Planned{Fault: StoreUsed, At: at(1), Until: at(1.5)} // 100 l, so that it refills
	ask := func(h float64, ps ...Planned) *Tank {
		k := start(Options{Faults: append(ps, used)})
		k.Advance(at(h))
		return k
	}
	between(t, "refilling, l/h", ask(2).Truth().MadeLH, 69.9, 70.1)
	between(t, "refilling slowly, l/h", ask(2, Planned{Fault: RefillSlow, At: at(0)}).Truth().MadeLH, 41.9, 42.1)
	between(t, "store with a leak, l less", ask(6).Truth().ReservoirL-ask(6, Planned{Fault: ReservoirLeak, At: at(4), Strength: 20}).Truth().ReservoirL, 38, 41)
	between(t, "fills on through a shut valve, l", ask(12, Planned{Fault: RefillUncommanded, At: at(6)}).Truth().ReservoirL, 225, 231)
	between(t, "valve told shut", must(t, ask(12, Planned{Fault: RefillUncommanded, At: at(6)}), "refill"), 0, 0)
	between(t, "more comes than the pump takes, mm", ask(8, Planned{Fault: DrainInflow, At: at(6)}).Truth().WasteMM, 390, 401)
}

func TestMachinesThatAreNotTold(t *testing.T) {
	k, _ := after(8, Planned{Fault: HeaterCommandedOn, At: at(2)})
	between(t, "commanded on and too warm, Cel", must(t, k, "water"), 25, 27)
	between(t, "its switch", must(t, k, "heat"), 1, 1)
	k, _ = after(14, Planned{Fault: HeaterCommandedOff, At: at(2)})
	between(t, "never commanded, Cel", must(t, k, "water"), 21.5, 24)
	between(t, "its switch", must(t, k, "heat"), 0, 0)
	k, _ = after(40, Planned{Fault: RoomTemperature, At: at(0), Strength: -8})
	full := must(t, k, "water")
	k = start(Options{Faults: []Planned{{Fault: RoomTemperature, At: at(0), Strength: -8}, {Fault: HeaterWeak, At: at(0)}}})
	k.Advance(at(40))
	between(t, "a weak heater in a cold room, K colder", full-must(t, k, "water"), 1, 7)
	k, healthy := after(6, Planned{Fault: FilterBlocked, Equipment: "a", At: at(5)})
	between(t, "a blocked inlet leaves a tenth", k.Filter("a").Flow/healthy.Filter("a").Flow, 0.099, 0.101)
}

func TestWrongUnitsAndSpikes(t *testing.T) {
	k, healthy := after(6, Planned{Fault: WrongUnit, Sensor: "water", At: at(5)})
	between(t, "Fahrenheit", must(t, k, "water"), must(t, healthy, "water")*1.8+31.9, must(t, healthy, "water")*1.8+32.1)
	k, healthy = after(6, Planned{Fault: WrongUnit, Sensor: "waste", At: at(5)})
	between(t, "cm for mm", must(t, k, "waste")*10, must(t, healthy, "waste")-0.1, must(t, healthy, "waste")+0.1)
	k = start(Options{Faults: []Planned{{Fault: SensorSpikes, Sensor: "water", At: at(0)}}})
	wild := 0
	watch(k, "water", hours(24), func(_ time.Duration, v float64) {
		if math.Abs(v-k.Truth().Temperature) > 0.5 {
			wild++
		}
	})
	between(t, "wild readings of 1440", float64(wild), 40, 110)
}

func TestChangeStopsHalfWay(t *testing.T) {
	tank := atrium()
	tank.Equipment.WaterChange = &aquarium.WaterChange{Out: "out", In: "in", Litres: 60, At: []aquarium.WeekTime{{Daily: true, At: 6 * 60}}}
	for _, id := range []aquarium.SensorID{"out", "in"} {
		tank.Sensors = append(tank.Sensors, aquarium.Sensor{ID: id, Quantity: aquarium.Switch})
	}
	k := New(tank, "quillmere-library", london, Options{Seed: 7, Start: midnight, Faults: []Planned{{Fault: ChangeStopped, At: at(5)}}})
	k.Advance(at(6.26))
	x := k.Truth()
	between(t, "given up after a quarter of an hour, h", x.ChangeStopped.Sub(midnight).Hours(), 6.24, 6.26)
	between(t, "60 l are missing, mm", x.LevelMM, -72, -60)
}
