package sim

import (
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

func TestGasFaults(t *testing.T) {
	lowest := 14.0
	k := start(Options{Faults: []Planned{{Fault: CO2Surge, At: at(9.5)}}})
	watch(k, "ph", hours(17), func(h time.Duration, v float64) { lowest = min(lowest, k.Truth().PH) })
	between(t, "lowest pH while the pressure runs up and the valve works", lowest, 6.0, 6.4)

	k, healthy := after(12, Planned{Fault: CO2ShutByHand, At: at(7)})
	between(t, "pH at noon with the valve shut by hand", must(t, k, "ph"), 7.1, 7.8)
	between(t, "the cylinder keeps its gas, kg more", must(t, k, "cylinder")-must(t, healthy, "cylinder"), 0.02, 0.2)

	k, _ = after(5*24+12, Planned{Fault: CO2LineBlocked, At: at(0), Strength: 0.19})
	between(t, "flow left on the sixth day", k.Truth().Gas, 0, 0.01)

	k, healthy = after(3*24, Planned{Fault: KHCrash, At: at(0)})
	between(t, "alkalinity lost in three days, dKH", healthy.Truth().KH-k.Truth().KH, 1.4, 1.6)
}

func TestElectrodeFaults(t *testing.T) {
	k, _ := after(9, Planned{Fault: PHShorted, At: at(8.5)})
	between(t, "shorted", must(t, k, "ph"), 6.98, 7.02)
	k.Advance(at(16))
	between(t, "and the controller doses on, pH in truth", k.Truth().PH, 5, 6.3)

	k, _ = after(16, Planned{Fault: PHOffset, At: at(0)})
	between(t, "read three tenths too high, the truth is as much too low", k.Truth().PH, 6.2, 6.4)

	seen := map[bool]bool{}
	for seed := range uint64(8) {
		k := start(Options{Seed: seed + 1, Faults: []Planned{{Fault: PHUnplugged, At: at(1)}}})
		lo, hi := 14.0, 0.0
		watch(k, "ph", hours(4), func(h time.Duration, v float64) {
			if h > hours(1.2) {
				lo, hi = min(lo, v), max(hi, v)
			}
		})
		full := lo > 13.9
		seen[full] = true
		if !full && hi-lo < 2 {
			t.Errorf("seed %d: an open input neither wanders nor lies at its end: %g to %g", seed, lo, hi)
		}
	}
	if len(seen) != 2 {
		t.Error("every open input does the same")
	}

	air, _ := after(7, Planned{Fault: PHInAir, At: at(1)})
	lo, hi := 14.0, 0.0
	watch(air, "ph", hours(20), func(_ time.Duration, v float64) { lo, hi = min(lo, v), max(hi, v) })
	between(t, "a drying film goes where it likes, pH", hi-lo, 0.5, 3)

	slow := start(Options{Faults: []Planned{{Fault: PHSlow, At: at(0), Strength: 40}}})
	lowest := 14.0
	watch(slow, "ph", hours(17), func(time.Duration, float64) { lowest = min(lowest, slow.Truth().PH) })
	between(t, "a slow electrode lets the control overshoot, lowest pH", lowest, 5.9, 6.45)

	ground := start(Options{Faults: []Planned{{Fault: PHGround, At: at(0)}}})
	on, off, n := 0.0, 0.0, [2]int{}
	watch(ground, "ph", hours(6), func(_ time.Duration, v float64) {
		x := v - ground.Truth().PH
		if ground.heats() {
			on, n[0] = on+x, n[0]+1
		} else {
			off, n[1] = off+x, n[1]+1
		}
	})
	between(t, "step with the heater, pH", on/float64(n[0])-off/float64(n[1]), 0.28, 0.32)
}

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
