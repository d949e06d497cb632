package detect

import (
	"fmt"
	"time"

	"lentic/collector/aquarium"
)

// dosedBy gives the tank dosing hours, in minutes after midnight, and takes its
// valve's switch.
func dosedBy(from, to aquarium.Clock) func(*aquarium.Tank) {
	return func(t *aquarium.Tank) {
		c := *t.Equipment.CO2
		c.Hours, c.Valve = &aquarium.Span{From: from, To: to}, ""
		t.Equipment.CO2 = &c
	}
}

// heldAt gives the tank another target.
func heldAt(ph float64) func(*aquarium.Tank) {
	return func(t *aquarium.Tank) {
		c := *t.Equipment.CO2
		c.Target = ph
		t.Equipment.CO2 = &c
	}
}

// pulses is a pH that a current moves by that much every other twenty minutes.
func pulses(ph, by float64, lasts time.Duration) string {
	s := ""
	for at := time.Duration(0); at < lasts; at += 40 * m {
		s += fmt.Sprintf("%v:%g %v:%g %v:%g %v:%g ", at+1e9, ph, at+20*m, ph, at+20*m+1e9, ph+by, at+40*m, ph+by)
	}
	return s
}

var gasStories = []scenario{
	{
		name:  "a cylinder leaks into the room",
		paths: map[string]string{"gas": "0m:450 60m:450 90m:6200 150m:6200 160m:800"}, lasts: 3 * h,
		want: []want{
			// 5,000 ppm are passed at 83m44s.
			{event: raisedNow, cause: aquarium.RoomCO2High, equipment: "room", after: 83 * m, by: 88*m + 44e9},
			{event: returnedNow, cause: aquarium.RoomCO2High, equipment: "room", after: 154 * m, by: 172 * m},
		},
	},
	{
		name: "a cylinder bursts", paths: map[string]string{"gas": "0m:450 60m:450 60m1s:35000"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.RoomCO2High, equipment: "room", after: 60 * m, by: 62*m + 10e9}},
	},
	{
		name: "a school class stands around the tank", paths: map[string]string{"gas": "0m:450 60m:450 90m:2600 120m:2600 150m:600"}, lasts: 3 * h,
	},
	{
		name: "somebody breathes on the sensor", paths: map[string]string{"gas": "0m:450 60m:450 60m1s:8000 62m:8000 62m1s:450"}, lasts: 2 * h,
	},
	{
		// 5,000 ppm are passed at 62m: by a reading a minute 63m is the first over it.
		name: "a cylinder seeps into a small room, told by a reading a minute", every: m,
		paths: map[string]string{"gas": "0m:450 40m:450 62m:4990 65m:5300 90m:5500"}, lasts: 90 * m,
		want: []want{{event: raisedNow, cause: aquarium.RoomCO2High, equipment: "room", after: 64 * m, by: 67 * m}},
	},
	{
		name: "somebody breathes on the sensor for nearly three minutes", paths: map[string]string{"gas": "0m:450 60m:450 60m1s:8000 62m55s:8000 62m56s:450"}, lasts: 2 * h,
	},
	{
		name: "the cylinder is empty of a morning and is exchanged", paths: map[string]string{"ph": "0m:7.2 200m:7.2 260m:6.6 300m:6.6", "valve": "0m:0 60m:1 265m:0"}, lasts: 5 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.CO2NotDosing, equipment: "co2", after: 100 * m, by: 120 * m},
			{event: returnedNow, cause: aquarium.CO2NotDosing, equipment: "co2", after: 200 * m, by: 270 * m},
		},
	},
	{
		name: "the cylinder runs out by day", paths: map[string]string{"ph": "0m:6.6 60m:6.65 240m:6.95", "valve": "0m:0 60m:1"},
		want: []want{{event: raisedNow, cause: aquarium.CO2NotDosing, equipment: "co2", after: 80 * m, by: 120 * m}},
	},
	{
		name: "the cylinder is empty and no switch tells", gone: []aquarium.SensorID{"valve"}, change: dosedBy(60, 600),
		paths: map[string]string{"ph": "0m:7.2"},
		want:  []want{{event: raisedNow, cause: aquarium.CO2NotDosing, equipment: "co2", after: 100 * m, by: 120 * m}},
	},
	{
		name: "a large tank's morning takes four hours", paths: map[string]string{"ph": "0m:7.3 60m:7.3 120m:7.05 180m:6.88 240m:6.76 300m:6.66", "valve": "0m:0 60m:1"}, lasts: 5 * h,
	},
	{
		name: "filters pause for feeding while gas is asked for", paths: map[string]string{"ph": "0m:7.2 60m:7.2 90m:7.0 100m:7.0 140m:6.6", "valve": "0m:0 60m:1 145m:0"},
	},
	{
		name: "somebody has shut the gas for a visit", journal: []aquarium.Entry{visit(50*m, 200*m)},
		paths: map[string]string{"ph": "0m:7.2 210m:7.2 240m:6.9", "valve": "0m:0 60m:1"},
	},
	{
		name: "the electrode is shorted while gas is asked for", paths: map[string]string{"ph": "0m:6.6 60m:6.6 60m10s:7", "valve": "0m:0 60m10s:1"}, lasts: 100 * m,
		want: []want{{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 60 * m, by: 90 * m}},
	},
	{
		name: "the electrode is shorted at night", paths: map[string]string{"ph": "0m:7.3 60m:7.3 60m10s:7"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 60 * m, by: 90 * m}},
	},
	{ // so that nothing has gathered in it: a quarter an hour from 49m on
		name: "the valve comes open after a pause for feeding in which it was shut", lasts: 80 * m,
		change: func(t *aquarium.Tank) {
			for i := range t.Equipment.Filters {
				t.Equipment.Filters[i].Stops = []aquarium.Stop{{At: 36, For: 10 * time.Minute}}
			}
		},
		paths: map[string]string{"ph": "0m:6.62 20m:6.55 49m:6.57 90m:6.4", "valve": "0m:1 20m:0",
			"flow-a": "0m:900 36m:900 36m10s:0 46m:0 46m10s:900", "flow-b": "0m:880 36m:880 36m10s:0 46m:0 46m10s:880"},
		want: []want{{event: raisedNow, cause: aquarium.CO2ValveStuck, equipment: "co2", after: 55 * m, by: 70 * m}},
	},
	{ // up by less than any leap, but water that gas brings down does not turn so
		name:  "the probe slips out of the water in the midst of the morning's fall",
		paths: map[string]string{"ph": "0m:7.24 60m:7.24 62m:7.22 73m:7 74m:7.15 76m:7.22 84m:7 94m:6.76 110m:6.74", "valve": "0m:0 60m:1"}, lasts: 110 * m,
		want: []want{{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 74 * m, by: 104 * m}},
	},
	{
		name:  "a calibration moves the pH by a tenth in the midst of the morning's fall",
		paths: map[string]string{"ph": "0m:7.24 60m:7.24 62m:7.22 73m:7 73m10s:7.1 100m:6.7 110m:6.62", "valve": "0m:0 60m:1"}, lasts: 110 * m,
	},
	{
		name: "the electrode is unplugged, at the end of its range", paths: map[string]string{"ph": "0m:6.6 60m:6.6 60m10s:14"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 60 * m, by: 90 * m}},
	},
	{
		name: "the electrode is unplugged and wanders", paths: map[string]string{"ph": "0m:6.6 60m:6.6 61m:9 66m:3 73m:11 78m:5 85m:8 90m:2 120m:7"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 60 * m, by: 90 * m}},
	},
	{
		name: "the electrode is shorted and reads what a buffer of 4 does", paths: map[string]string{"ph": "0m:6.6 60m:6.6 60m10s:4.5"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 60 * m, by: 90 * m}},
	},
	{
		name: "the electrode goes through two buffers", paths: map[string]string{"ph": "0m:6.6 60m:6.6 60m30s:7 67m:7 67m30s:4 74m:4 74m30s:6.64 120m:6.62"}, lasts: 2 * h,
	},
	{
		name: "the electrode goes through two buffers in a visit", journal: []aquarium.Entry{visit(50*m, 120*m)},
		paths: map[string]string{"ph": "0m:6.6 60m:6.6 60m30s:7 67m:7 67m30s:4 84m:4 84m30s:6.9 240m:6.7"},
	},
	{
		name: "the water's thermometer sends Fahrenheit", paths: map[string]string{"water": "0m:24.5 60m:24.5 60m1s:76.1"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.UnitSuspect, equipment: "water", after: 60 * m, by: 75 * m}},
	},
	{
		name: "a current moves the electrode while the heater is on", paths: map[string]string{"ph": "0m:6.6 60m:6.6 60m1s:6.3 95m:6.3 95m1s:6.6", "valve": "0m:1 30m:0"}, lasts: 3 * h,
		want: []want{ // and no overshoot, though it is 0.3 under its target
			{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 80 * m, by: 90 * m},
			{event: returnedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 95 * m, by: 150 * m},
		},
	},
	{
		// The controller takes 6.75 for the water's: what it then holds is 0.15 lower.
		name:  "a current moves the electrode to and fro, and the pH without it comes to lie lower",
		paths: map[string]string{"ph": pulses(6.6, 0.15, 4*h) + "4h1s:6.38 5h:6.38"}, lasts: 5 * h,
		want: []want{{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 60 * m, by: 3 * h}},
	},
	{
		name:  "a current moves the electrode to and fro, and the gas is more than it explains",
		paths: map[string]string{"ph": pulses(6.6, 0.15, 4*h) + "5h:6.1 6h:6.1", "valve": "0m:0 4h:1"}, lasts: 6 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 60 * m, by: 3 * h},
			{event: raisedNow, cause: aquarium.CO2Overshoot, equipment: "co2", after: 4*h + 20*m, by: 5 * h},
		},
	},
	{
		name: "a room full of gas brings the pH down by night", change: func(t *aquarium.Tank) { t.Limits.CO2 = 0 },
		paths: map[string]string{"ph": "0m:7.2 60m:7.2 120m:6.98 180m:6.86", "gas": "0m:450 60m:450 60m1s:30000"}, lasts: 3 * h,
		want: []want{{event: raisedNow, cause: aquarium.RoomCO2High, equipment: "room", after: 60 * m, by: 65 * m}},
	},
	{
		// Ten times what brings it down of a morning: 6.4 is passed at 64m30s.
		name: "the reducer lets everything through as the cylinder runs out", paths: map[string]string{"ph": "0m:6.6 60m:6.6 67m:6.28 90m:6.2 240m:6.5", "valve": "0m:0 40m:1 64m:0"}, lasts: 75 * m,
		want: []want{{event: raisedNow, cause: aquarium.CO2Overshoot, equipment: "co2", after: 62 * m, by: 67*m + 10e9}},
	},
}
