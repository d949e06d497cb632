package detect

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// withRoom gives the tank a sensor of the air.
func withRoom(t *aquarium.Tank) {
	t.Sensors = append(t.Sensors, aquarium.Sensor{ID: "air", Quantity: aquarium.Temperature})
	t.Equipment.Room = &aquarium.Room{Temperature: "air", CO2: "gas"}
}

func heaterless(t *aquarium.Tank) { t.Equipment.Heater = nil }

func withCooling(t *aquarium.Tank) {
	t.Sensors = append(t.Sensors, aquarium.Sensor{ID: "fan", Quantity: aquarium.Switch})
	t.Equipment.Cooling = &aquarium.Cooling{Temperature: "water", Switch: "fan", Target: 25}
}

func withLights(t *aquarium.Tank) {
	t.Sensors = append(t.Sensors, aquarium.Sensor{ID: "lamp", Quantity: aquarium.Switch})
	t.Equipment.Lights, t.Lights = &aquarium.LightsSwitch{Switch: "lamp"}, &aquarium.Span{From: 120, To: 240}
}

// The water leaves its target by 1.5 at the minutes said: every alarm must have
// been raised by then.
var machineStories = []scenario{
	{
		name: "the heater sticks: two thirds of a degree an hour", paths: map[string]string{"water": "0m:24.5 60m:24.5 240m:26.5"},
		want: []want{{event: raisedNow, cause: aquarium.HeaterStuckOn, equipment: "heater", after: 110 * m, by: 180 * m}},
	},
	{
		name: "the heater sticks mildly: a fifth of a degree an hour", paths: map[string]string{"water": "0m:24.5 60m:24.5 540m:26.1"}, lasts: 9 * h,
		want: []want{{event: raisedNow, cause: aquarium.HeaterStuckOn, equipment: "heater", after: 200 * m, by: 510 * m}},
	},
	{
		name: "the heater sticks and no switch tells", gone: []aquarium.SensorID{"heat"}, paths: map[string]string{"water": "0m:24.5 60m:24.5 240m:26.5"},
		want: []want{{event: raisedNow, cause: aquarium.HeaterStuckOn, equipment: "heater", after: 110 * m, by: 180 * m}},
	},
	{
		name: "the controller holds the heater on", paths: map[string]string{"water": "0m:24.5 60m:24.5 240m:25.6", "heat": "0m:0 30m:1"},
		want: []want{{event: raisedNow, cause: aquarium.HeaterStuckOn, equipment: "heater", after: 110 * m, by: 240 * m}},
	},
	{
		name: "the heater swings around its target", paths: map[string]string{"water": "0m:24.2 40m:24.8 80m:24.2 120m:24.8 160m:24.2 200m:24.8", "heat": "0m:1 40m:0 80m:1 120m:0 160m:1 200m:0"},
	},
	{
		name: "the heater is dead", paths: map[string]string{"water": "0m:24.5 60m:24.5 300m:23.0", "heat": "0m:0 70m:1"}, lasts: 5 * h,
		want: []want{{event: raisedNow, cause: aquarium.HeaterNotHeating, equipment: "heater", after: 180 * m, by: 300 * m}},
	},
	{
		name: "the heater is dead and no switch tells", gone: []aquarium.SensorID{"heat"}, paths: map[string]string{"water": "0m:24.5 60m:24.5 300m:23.0"}, lasts: 5 * h,
		want: []want{{event: raisedNow, cause: aquarium.HeaterNotHeating, equipment: "heater", after: 180 * m, by: 300 * m}},
	},
	{
		name: "nobody calls for heat", paths: map[string]string{"water": "0m:24.5 60m:24.5 300m:23.0"}, lasts: 5 * h,
		want: []want{{event: raisedNow, cause: aquarium.HeaterNotHeating, equipment: "heater", after: 180 * m, by: 300 * m}},
	},
	{
		name: "colder water was put in, and is being warmed", paths: map[string]string{"water": "0m:24.5 60m:24.5 75m:23.4 195m:24.5", "heat": "0m:0 65m:1 195m:0"},
	},
	{
		name: "a change of colder water that takes an hour, and is being warmed", change: changed,
		paths: map[string]string{"water": "0m:24.4 85m:24.3 120m:23.1 130m:23.1 300m:23.8", "heat": "0m:1", "out": "0m:0 60m:1 84m:0", "in": "0m:0 84m:1 120m:0",
			"level": "0m:-1 60m:-1 84m:-68 120m:-1"},
	},
	{
		name: "a change of colder water that is not warmed", change: changed,
		paths: map[string]string{"water": "0m:24.4 85m:24.3 120m:23.1 300m:22.7", "heat": "0m:1", "out": "0m:0 60m:1 84m:0", "in": "0m:0 84m:1 120m:0",
			"level": "0m:-1 60m:-1 84m:-68 120m:-1"},
		want: []want{{event: raisedNow, cause: aquarium.HeaterNotHeating, equipment: "heater", after: 150 * m, by: 160 * m}},
	},
	{
		name: "the cooler does nothing", change: withCooling, paths: map[string]string{"water": "0m:25 60m:25 300m:26.5", "fan": "0m:0 70m:1"}, lasts: 5 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.HeaterStuckOn, equipment: "heater", after: 60 * m, by: 300 * m},
			{event: raisedNow, cause: aquarium.CoolingNotCooling, equipment: "cooling", after: 180 * m, by: 300 * m},
		},
	},
	{
		name: "a heater that sticks in a visit is told half an hour after it", journal: []aquarium.Entry{visit(30*m, 90*m)}, lasts: 3 * h,
		paths: map[string]string{"water": "0m:24.5 60m:24.5 180m:26.5", "heat": "0m:0"},
		want:  []want{{event: raisedNow, cause: aquarium.HeaterStuckOn, equipment: "heater", after: 120 * m, by: 135 * m}},
	},
	{
		name: "warm water is poured in in a visit", journal: []aquarium.Entry{visit(30*m, 90*m)}, lasts: 6 * h,
		paths: map[string]string{"water": "0m:24.5 80m:24.5 88m:25.8 200m:25.6 360m:25.2", "heat": "0m:0"},
	},
	{
		name: "the cooler cools", change: withCooling, paths: map[string]string{"water": "0m:25.9 300m:25.2", "fan": "0m:1"}, lasts: 5 * h,
	},
	{
		name: "the lights do not come on", change: withLights, paths: map[string]string{"lamp": "0m:0"}, lasts: 3 * h,
		want: []want{{event: raisedNow, cause: aquarium.LightsNotOn, equipment: "lights", after: 134 * m, by: 136 * m}},
	},
	{
		name: "the lights stay on", change: withLights, paths: map[string]string{"lamp": "0m:0 120m:1"}, lasts: 5 * h,
		want: []want{{event: raisedNow, cause: aquarium.LightsStuckOn, equipment: "lights", after: 269 * m, by: 271 * m}},
	},
	{
		name: "the lights stay on, and for minutes nobody says so", change: withLights, paths: map[string]string{"lamp": "0m:0 120m:1 250m:- 258m:1"}, lasts: 5 * h,
		want: []want{{event: raisedNow, cause: aquarium.LightsStuckOn, equipment: "lights", after: 269 * m, by: 271 * m}},
	},
	{
		name: "a timer some minutes off", change: withLights, paths: map[string]string{"lamp": "0m:0 129m:1 249m:0"}, lasts: 5 * h,
	},
	{
		name: "one tank goes dark", remote: map[string]string{"gw1/mains": "0m:1"},
		paths: map[string]string{"mains": "0m:1 60m:0 120m:1", "flow-a": "0m:900 60m:900 60m1s:0 121m:0 122m:900", "flow-b": "0m:880 60m:880 60m1s:0 121m:0 122m:880"}, lasts: 3 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.TankPowerLost, equipment: "power", after: 60 * m, by: 62*m + 10*time.Second},
			{event: returnedNow, cause: aquarium.TankPowerLost, equipment: "power", after: 120 * m, by: 123 * m},
		},
	},
}

// TestDoser: a day and an hour without a dose is told, and a dose ends it. A few minutes
// of which nothing is known put it off where the dose may lie in them, and nowhere else;
// so does a tank without mains, by a day and an hour from when that is back.
func TestDoser(t *testing.T) {
	for _, c := range []struct {
		name      string
		gap       int // min
		dark      string
		onChange  bool
		after, by time.Duration
	}{
		{"no gap", 0, "", false, 5*day + 10*h - m, 5*day + 12*h},
		{"a gap at night", 5*1440 + 200, "", false, 5*day + 10*h - m, 5*day + 12*h},
		{"a gap just after its time", 5*1440 + 543, "", false, 5*day + 10*h - m, 5*day + 12*h},
		{"a gap at its time", 5*1440 + 540, "", false, 6*day + 10*h - m, 6*day + 12*h},
		{"told by its changes", 0, "", true, 5*day + 10*h - m, 5*day + 12*h},
		{"told by its changes, and nothing is heard at its time", 5*1440 + 540, "", true, 6*day + 10*h - m, 6*day + 12*h},
		{"told by its changes, and nothing is heard at night", 5*1440 + 200, "", true, 5*day + 10*h - m, 5*day + 12*h},
		{"no mains", 0, "0m:1 7680m:0 8400m:1", false, 6*day + 21*h - m, 6*day + 22*h}, // 8:00 to 20:00
	} {
		t.Run(c.name, func(t *testing.T) {
			site := library()
			tank := &site.Tanks[0]
			tank.Sensors = append(tank.Sensors, aquarium.Sensor{ID: "dose", Quantity: aquarium.Switch, OnChange: c.onChange}, aquarium.Sensor{ID: "idle", Quantity: aquarium.Switch})
			tank.Equipment.Dosers = []aquarium.Doser{{ID: "iron", Switch: "dose", MLPerDay: 5}, {ID: "spare", Switch: "idle", MLPerDay: 5}}
			s := script{paths: calm(), every: time.Minute, lasts: 9 * day}
			s.paths["idle"] = "0m:0"
			if c.onChange && c.gap > 0 { // the whole tank is not heard
				for id, path := range s.paths {
					_, v, _ := strings.Cut(path, ":")
					s.paths[id] += fmt.Sprintf(" %dm:- %dm:%s", c.gap, c.gap+5, v)
				}
			}
			p := "0m:0 "
			for d := range 9 {
				if d != 5 && d != 6 {
					p += fmt.Sprintf("%dm:1 %dm:0 ", d*1440+540, d*1440+542)
				}
				if c.gap > 0 && c.gap/1440 == d {
					p += fmt.Sprintf("%dm:- %dm:0 ", c.gap, c.gap+5)
				}
			}
			s.paths["dose"] = p
			wants := []want{
				{event: raisedNow, cause: aquarium.DoserNotDosing, equipment: "iron", after: c.after, by: c.by},
				{event: returnedNow, cause: aquarium.DoserNotDosing, equipment: "iron", after: 7*day + 9*h - m, by: 7*day + 9*h + 20*m},
			}
			if c.dark != "" {
				s.paths["mains"], s.remote = c.dark, map[string]string{"gw1/mains": "0m:1"}
				wants = append([]want{
					{event: raisedNow, cause: aquarium.TankPowerLost, equipment: "power", after: 5*day + 8*h, by: 5*day + 8*h + 5*m},
					{event: returnedNow, cause: aquarium.TankPowerLost, equipment: "power", after: 5*day + 20*h, by: 5*day + 20*h + 5*m},
				}, wants...)
			}
			check(t, s.run(t, site), wants)
		})
	}
}
