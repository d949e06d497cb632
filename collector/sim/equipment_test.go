package sim

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// A tank of which the configuration says next to nothing still lives.
func TestBareConfiguration(t *testing.T) {
	tank := aquarium.Tank{ID: "small", Sensors: []aquarium.Sensor{
		{ID: "ph", Quantity: aquarium.PH}, {ID: "t", Quantity: aquarium.Temperature},
		{ID: "l", Quantity: aquarium.Level}, {ID: "v", Quantity: aquarium.Volume},
		{ID: "s", Quantity: aquarium.Switch}, {ID: "n", Quantity: aquarium.Number},
	}}
	k := New(tank, "quillmere-library", nil, Options{Start: midnight})
	lowest := 0.0
	watch(k, "l", 30*24*time.Hour, func(_ time.Duration, v float64) { lowest = min(lowest, v) })
	between(t, "lowest level of a month, filled up by hand, mm", lowest, -26, -20)
	ph, _ := reading(k, "ph")
	between(t, "pH", ph, 6.8, 8.5)
	water, _ := reading(k, "t")
	between(t, "water follows the room, Cel", water, 17, 25)
	volume, _ := reading(k, "v")
	between(t, "water, l", volume, 335, 361)
	s, _ := reading(k, "s")
	between(t, "a switch of nothing", s, 0, 0)
}

func TestFloatSwitches(t *testing.T) {
	tank := atrium()
	tank.Equipment.TopOff = &aquarium.TopOff{Low: "low", High: "high", Pump: "topoff", RateLH: 90}
	tank.Sensors = append(tank.Sensors, aquarium.Sensor{ID: "low", Quantity: aquarium.Switch}, aquarium.Sensor{ID: "high", Quantity: aquarium.Switch})
	k := New(tank, "quillmere-library", london, Options{Seed: 7, Start: midnight})
	ran, before := false, 0.0
	watch(k, "topoff", 14*24*time.Hour, func(h time.Duration, v float64) {
		low, _ := reading(k, "low")
		high, _ := reading(k, "high")
		if high > low {
			t.Fatalf("%v: water at the high float and not at the low one", h)
		}
		if high == 1 && before == 1 && v == 1 { // it stops within a step
			t.Fatalf("%v: pumping on above the high float", h)
		}
		before = high
		ran = ran || v == 1
	})
	if !ran {
		t.Error("the pump never ran in two weeks")
	}
}

func TestDosersAndWaterChange(t *testing.T) {
	tank := atrium()
	tank.Equipment.Dosers = []aquarium.Doser{{ID: "iron", Switch: "iron", MLPerDay: 20}, {ID: "npk", Switch: "npk", MLPerDay: 250}}
	tank.Equipment.WaterChange = &aquarium.WaterChange{Out: "out", In: "in", Litres: 60, At: []aquarium.WeekTime{{Daily: true, At: 6 * 60}}}
	for _, id := range []aquarium.SensorID{"iron", "npk", "out", "in"} {
		tank.Sensors = append(tank.Sensors, aquarium.Sensor{ID: id, Quantity: aquarium.Switch})
	}
	minutes := map[aquarium.SensorID]int{}
	k := New(tank, "quillmere-library", london, Options{Seed: 7, Start: midnight})
	for m := range 24 * 60 {
		k.Advance(midnight.Add(time.Duration(m) * time.Minute))
		for _, r := range k.Readings() {
			if r.Value == 1 {
				minutes[r.Sensor.Sensor]++
			}
		}
	}
	// 60 l at 240 l/h are 15 min each way.
	for id, want := range map[aquarium.SensorID]int{"iron": 2, "npk": 5, "out": 15, "in": 15} {
		if got := minutes[id]; got != want {
			t.Errorf("%s: on for %d minutes of the day, want %d", id, got, want)
		}
	}
}
