package sim

import (
	"math"
	"reflect"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/water"
)

func TestSameSeedSameReadings(t *testing.T) {
	faults := []Planned{{Fault: CO2StuckOpen, At: at(14)}, {Fault: SensorFrozen, Sensor: "water", At: at(15.003)}}
	a, b := start(Options{Faults: faults}), start(Options{Faults: faults})
	a.Advance(at(20.001)) // at once
	for m := range 20 * 6 {
		b.Advance(midnight.Add(time.Duration(m) * 10 * time.Minute))
		b.Readings()
	}
	b.Advance(at(20.001))
	if got, want := b.Readings(), a.Readings(); !reflect.DeepEqual(got, want) {
		t.Errorf("in small strides: got %v, want as at once %v", got, want)
	}
	if got, want := a.Readings(), a.Readings(); !reflect.DeepEqual(got, want) {
		t.Errorf("asked twice: got %v, want %v", got, want)
	}
	other := start(Options{Faults: faults, Seed: 8})
	other.Advance(at(20.001))
	if reflect.DeepEqual(other.Readings(), a.Readings()) {
		t.Error("another seed gives the same readings")
	}
	before := a.Readings()
	a.Advance(at(3))
	if !reflect.DeepEqual(a.Readings(), before) {
		t.Error("going back in time changed the readings")
	}
}

func TestEverySensorAnswersInItsUnit(t *testing.T) {
	tank := atrium()
	k := New(tank, "quillmere-library", london, Options{Seed: 1, Start: midnight})
	rs := k.Readings()
	if len(rs) != len(tank.Sensors) {
		t.Fatalf("got %d readings, want %d", len(rs), len(tank.Sensors))
	}
	for i, r := range rs {
		s := tank.Sensors[i]
		want := aquarium.SensorKey{Site: "quillmere-library", Tank: "atrium", Sensor: s.ID}
		if r.Sensor != want || r.Unit != s.Quantity.Unit() || r.At != midnight || !s.Quantity.Possible(r.Value) {
			t.Errorf("reading %+v: want %v in %q, at the start, possible", r, want, s.Quantity.Unit())
		}
	}
}

func TestSentInTheSensorsOwnTerms(t *testing.T) {
	for _, c := range []struct {
		name   string
		sensor aquarium.Sensor
		back   func(float64) float64 // to the first unit
		lo, hi float64
	}{
		{"Fahrenheit", aquarium.Sensor{ID: "water", Quantity: aquarium.Temperature, Unit: "[degF]"},
			func(v float64) float64 { return (v - 32) / 1.8 }, 24, 25},
		{"scale and offset", aquarium.Sensor{ID: "water", Quantity: aquarium.Temperature, Scale: 0.1, Offset: -40},
			func(v float64) float64 { return v*0.1 - 40 }, 24, 25},
		{"millivolts", aquarium.Sensor{ID: "ph", Quantity: aquarium.PH, Unit: "mV"},
			func(v float64) float64 { return 7 - v/59.06 }, 6.9, 7.4},
		{"centimetres as litres", aquarium.Sensor{ID: "store", Quantity: aquarium.Level, Unit: "cm", LitresPerMM: 0.5},
			func(v float64) float64 { return v * 10 * 0.5 }, 160, 200},
	} {
		t.Run(c.name, func(t *testing.T) {
			tank := atrium()
			tank.Sensors = []aquarium.Sensor{c.sensor}
			k := New(tank, "quillmere-library", london, Options{Seed: 7, Start: midnight})
			v, ok := reading(k, c.sensor.ID)
			if !ok {
				t.Fatal("no reading")
			}
			between(t, "in the first unit", c.back(v), c.lo, c.hi)
		})
	}
}

func TestCounterGivesTheFlow(t *testing.T) {
	tank := atrium()
	tank.Sensors = []aquarium.Sensor{{ID: "flow-a", Quantity: aquarium.Flow, Counter: true, PerUnit: 450}}
	k := New(tank, "quillmere-library", london, Options{Seed: 7, Start: midnight})
	before, _ := reading(k, "flow-a")
	k.Advance(at(1))
	after, _ := reading(k, "flow-a")
	between(t, "pulses in an hour, in litres", (after-before)/450, k.filters[0].flow*0.999, k.filters[0].flow*1.001)
}

// Water in less what evaporated, spilled, leaked and was changed is what the
// level rose by, to a microlitre.
func TestWaterBalances(t *testing.T) {
	for _, c := range []struct {
		name   string
		faults []Planned
		change bool
	}{
		{name: "healthy"},
		{name: "runaway over the rim", faults: []Planned{{Fault: TopOffRunaway, At: at(5)}}},
		{name: "leak", faults: []Planned{{Fault: Leak, At: at(5), Until: at(30)}}},
		{name: "weekly change", change: true},
	} {
		t.Run(c.name, func(t *testing.T) {
			tank := atrium()
			if c.change {
				tank.Equipment.WaterChange = &aquarium.WaterChange{Litres: 60, At: []aquarium.WeekTime{{Day: time.Tuesday, At: 6 * 60}}}
			}
			k := New(tank, "quillmere-library", london, Options{Seed: 7, Start: midnight, Faults: c.faults})
			first := k.Truth()
			k.Advance(at(14 * 24))
			last := k.Truth()
			w := last.Water
			got := last.Litres - first.Litres
			want := w.In - w.Evaporated - w.Spilled - w.Leaked - w.Changed
			if math.Abs(got-want) > 1e-6 {
				t.Errorf("the tank gained %.9f l, the account says %.9f", got, want)
			}
			if level := (last.LevelMM - first.LevelMM) * tank.Size.LitresPerMM(); math.Abs(level-got) > 1e-6 {
				t.Errorf("the level rose by %.9f l, the water by %.9f", level, got)
			}
			between(t, "evaporated, l/day", w.Evaporated/14, 1, 4)
			if c.change {
				between(t, "changed, l in two weeks", w.Changed, 119.9, 120.1)
			}
		})
	}
}

// Left alone and without life, the tank's pH settles where the published
// equilibrium with the room's air has it.
func TestBareWaterDegasses(t *testing.T) {
	tank := atrium()
	tank.Equipment.CO2 = nil
	k := New(tank, "quillmere-library", london, Options{Seed: 7, Start: midnight, Bare: true})
	k.Advance(at(4*24 + 5))
	x := k.Truth()
	want, err := water.DegassedPH(water.DegreeKH(x.KH), water.Celsius(x.Temperature), 430)
	if err != nil {
		t.Fatal(err)
	}
	// The room's air was richer in the evening; by five that is 0.02 pH.
	between(t, "degassed pH", x.PH, float64(want)-0.03, float64(want)+0.03)
}

// At night a planted tank settles where breath and gas exchange balance.
func TestNightBalance(t *testing.T) {
	tank := atrium()
	tank.Equipment.CO2 = nil
	k := New(tank, "quillmere-library", london, Options{Seed: 7, Start: midnight})
	k.Advance(at(3*24 + 8))
	x := k.Truth()
	air, err := k.carbon.system.Air(430)
	if err != nil {
		t.Fatal(err)
	}
	rate := k.carbon.exchangeH * (stillExchange + (1-stillExchange)*k.turning())
	steady := float64(air) + k.carbon.breathMgLH/rate
	want, err := water.PHAt(water.MgPerL(steady), water.DegreeKH(x.KH), water.Celsius(x.Temperature))
	if err != nil {
		t.Fatal(err)
	}
	between(t, "pH before dawn", x.PH, float64(want)-0.02, float64(want)+0.04)
}

func TestDailyRoundOfPH(t *testing.T) {
	k := start(Options{})
	var reached time.Duration
	lowest, highest, dawn := 14.0, 0.0, 0.0
	watch(k, "ph", hours(24), func(h time.Duration, v float64) {
		switch {
		case h == hours(7.5):
			dawn = v
		case h > hours(8) && reached == 0 && v <= 6.6:
			reached = h - hours(8)
		}
		if h > hours(10) && h <= hours(17) {
			lowest, highest = min(lowest, v), max(highest, v)
		}
	})
	between(t, "pH before dawn", dawn, 7.1, 7.4)
	between(t, "hours to reach the target", reached.Hours(), 0.75, 2)
	// The lag of mixing and electrode passes the band by a little.
	between(t, "lowest under control", lowest, 6.6-0.05-0.03, 6.6)
	between(t, "highest under control", highest, 6.6, 6.6+0.05+0.03)
}

// A rule of physics: what the valve lets in must come from the cylinder.
func TestCylinderEmpties(t *testing.T) {
	k := start(Options{})
	before := k.carbon.cylinderKG
	k.Advance(at(24))
	between(t, "kg a day", before-k.carbon.cylinderKG, 0.02, 0.2)
}

func TestTemperatureHeldAndNightsCooler(t *testing.T) {
	k := start(Options{})
	watch(k, "water", hours(48), func(h time.Duration, v float64) { between(t, h.String(), v, 24.1, 25) })

	tank := atrium()
	tank.Equipment.Heater.Switch, tank.Equipment.Heater = "", nil
	tank.Equipment.CO2, tank.Equipment.Cooling = nil, nil
	k = New(tank, "quillmere-library", london, Options{Seed: 7, Start: midnight})
	k.Advance(at(4*24 + 18))
	evening := k.Truth().Temperature
	k.Advance(at(5*24 + 8))
	between(t, "cooling overnight without a heater, K", evening-k.Truth().Temperature, 0.4, 3)
}

func TestTopOffKeepsItsBand(t *testing.T) {
	k := start(Options{})
	runs, before := 0, 0.0
	watch(k, "topoff", hours(14*24), func(_ time.Duration, v float64) {
		if v > before {
			runs++
		}
		before = v
		between(t, "level, mm", k.Truth().LevelMM, -5, 5)
	})
	between(t, "runs of the pump in two weeks", float64(runs), 3, 12)
}

func TestFilterStopsForFeeding(t *testing.T) {
	k := start(Options{})
	still := 0
	watch(k, "flow-b", hours(24), func(h time.Duration, v float64) {
		if v == 0 {
			still++
			between(t, "hour of the stop", h.Hours(), 12.5, 12.67)
		}
	})
	between(t, "minutes still", float64(still), 10, 10)
}
