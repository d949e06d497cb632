package main

import (
	"fmt"
	"strings"
	"time"

	"lentic/collector/aquarium"
)

var site = aquarium.Site{ID: "quillmere-library", Name: "Quillmere Library", Timezone: time.UTC}

// midnight is where every tank's life begins: a Monday.
var midnight = aquarium.At(time.Date(2031, 3, 3, 0, 0, 0, 0, time.UTC))

// view is how a tank is looked at.
type view struct {
	every    time.Duration
	switches bool    // what the machines are told can be seen
	steps    float64 // mm, of a level sensor; 0: as usual
}

func views(steps float64, every ...time.Duration) (vs []view) {
	for _, switches := range []bool{true, false} {
		for _, d := range every {
			vs = append(vs, view{d, switches, steps})
		}
	}
	return vs
}

func (v view) String() string {
	if !v.switches {
		return seconds(v.every) + ", no switches"
	}
	return seconds(v.every)
}

func seconds(d time.Duration) string { return fmt.Sprintf("%.0fs", d.Seconds()) }

// intervals are a flag.
type intervals []time.Duration

func (x *intervals) String() string {
	var s []string
	for _, d := range *x {
		s = append(s, seconds(d))
	}
	return strings.Join(s, ",")
}

func (x *intervals) Set(s string) error {
	*x = nil
	for p := range strings.SplitSeq(s, ",") {
		d, err := time.ParseDuration(p)
		if err != nil || d <= 0 || d%aquarium.Step != 0 {
			return fmt.Errorf("%q: want whole tens of seconds, as 30s", p)
		}
		*x = append(*x, d)
	}
	return nil
}

func sensors(named ...any) (ss []aquarium.Sensor) {
	for i := 0; i < len(named); i += 2 {
		for _, id := range named[i+1].([]aquarium.SensorID) {
			ss = append(ss, aquarium.Sensor{ID: id, Quantity: named[i].(aquarium.Quantity)})
		}
	}
	return ss
}

type ids = []aquarium.SensorID

// full is a tank with every kind of equipment there is; faults are tried on it.
func full() aquarium.Tank {
	return aquarium.Tank{
		ID: "atrium", Name: "Atrium island", Substrate: aquarium.Inert, AlkalinityDKH: 4,
		Size:   aquarium.Size{LengthCM: 150, WidthCM: 60, FillCM: 52, DisplacedL: 40},
		Lights: &aquarium.Span{From: 10 * 60, To: 18 * 60},
		Limits: aquarium.Limits{PH: &aquarium.Range{Lo: 6.2, Hi: 8.4}, Temperature: &aquarium.Range{Lo: 22, Hi: 28}, CO2: 50},
		Sensors: sensors(
			aquarium.PH, ids{"ph"}, aquarium.Temperature, ids{"water", "air"}, aquarium.Level, ids{"level", "waste"},
			aquarium.Flow, ids{"flow-a", "flow-b"}, aquarium.Volume, ids{"store"}, aquarium.Humidity, ids{"moist"}, aquarium.Gas, ids{"gas"},
			aquarium.Switch, ids{"valve", "topoff", "refill", "waste-pump", "heat", "chill", "light", "iron", "out", "in", "mains", "wet"}),
		Equipment: aquarium.Equipment{
			CO2:    &aquarium.CO2{PH: "ph", Target: 6.6, Band: 0.05, Valve: "valve", Hours: &aquarium.Span{From: 8 * 60, To: 17 * 60}},
			TopOff: &aquarium.TopOff{Level: "level", BandMM: 4, Pump: "topoff", RateLH: 90, From: "store"},
			Filters: []aquarium.Filter{
				{ID: "a", Flow: "flow-a", RatedLH: 1100, Stops: []aquarium.Stop{{At: 12*60 + 30, For: 10 * time.Minute}}},
				{ID: "b", Flow: "flow-b", RatedLH: 1100, Stops: []aquarium.Stop{{At: 12*60 + 30, For: 10 * time.Minute}}},
			},
			Reservoir:   &aquarium.Reservoir{Volume: "store", CapacityL: 200, Refill: "refill", ProductionLH: 70},
			Drain:       &aquarium.Drain{Level: "waste", StartMM: 250, StopMM: 60, OverflowMM: 380, Pump: "waste-pump"},
			Heater:      &aquarium.Heater{Temperature: "water", Switch: "heat", Target: 24.5},
			Cooling:     &aquarium.Cooling{Temperature: "water", Switch: "chill", Target: 27},
			Lights:      &aquarium.LightsSwitch{Switch: "light"},
			Power:       &aquarium.PowerSupply{Mains: "mains"},
			Floor:       &aquarium.Floor{Wet: "wet"},
			Room:        &aquarium.Room{Temperature: "air", Humidity: "moist", CO2: "gas"},
			WaterChange: &aquarium.WaterChange{Out: "out", In: "in", Litres: 40, At: []aquarium.WeekTime{{Day: time.Sunday, At: 6 * 60}}},
			Dosers:      []aquarium.Doser{{ID: "iron", Switch: "iron", MLPerDay: 150}},
		},
	}
}

// handFed is fed without a timer, dosed day and night, and has neither drain
// nor changer.
func handFed() aquarium.Tank {
	t := full()
	t.ID = "lobby"
	e := &t.Equipment
	e.Filters[0].Stops, e.Filters[1].Stops = nil, nil
	e.CO2.Hours, e.CO2.Target = nil, 6.7
	e.Drain, e.WaterChange, e.Dosers, e.Cooling, e.Room = nil, nil, nil, nil, nil
	keep(&t, "ph", "water", "level", "flow-a", "flow-b", "store", "valve", "topoff", "refill", "heat", "mains", "wet")
	return t
}

// small has one filter and the least that is watched.
func small() aquarium.Tank {
	t := full()
	t.ID, t.AlkalinityDKH = "room-1", 5
	t.Size = aquarium.Size{LengthCM: 120, WidthCM: 50, FillCM: 66, DisplacedL: 30}
	e := &t.Equipment
	e.Filters = []aquarium.Filter{{ID: "a", Flow: "flow-a", RatedLH: 900}}
	e.CO2.Hours, e.CO2.Target = &aquarium.Span{From: 9 * 60, To: 18 * 60}, 6.75
	e.TopOff.RateLH = 60
	e.Reservoir.CapacityL, e.Reservoir.ProductionLH = 120, 40
	e.Drain, e.WaterChange, e.Dosers, e.Cooling, e.Room, e.Lights = nil, nil, nil, nil, nil, nil
	keep(&t, "ph", "water", "level", "flow-a", "store", "valve", "topoff", "heat", "mains", "wet")
	e.Reservoir.Refill = ""
	return t
}

// keep leaves the tank with those sensors only.
func keep(t *aquarium.Tank, names ...aquarium.SensorID) {
	var ss []aquarium.Sensor
	for _, s := range t.Sensors {
		for _, n := range names {
			if s.ID == n {
				ss = append(ss, s)
			}
		}
	}
	t.Sensors = ss
}

// seen is what of the tank the view shows: without switches, nothing of what
// its machines are told. Mains and floor are no machines.
func (v view) seen(t aquarium.Tank) aquarium.Tank {
	if v.switches {
		return t
	}
	var ss []aquarium.Sensor
	for _, s := range t.Sensors {
		if s.Quantity != aquarium.Switch || s.ID == "mains" || s.ID == "wet" {
			ss = append(ss, s)
		}
	}
	t.Sensors = ss
	e := &t.Equipment
	e.CO2, e.TopOff, e.Reservoir, e.Heater = but(e.CO2), but(e.TopOff), but(e.Reservoir), but(e.Heater)
	e.CO2.Valve, e.TopOff.Pump, e.Reservoir.Refill, e.Heater.Switch = "", "", "", ""
	if e.Cooling != nil {
		e.Cooling = but(e.Cooling)
		e.Cooling.Switch = ""
	}
	if e.Drain != nil {
		e.Drain = but(e.Drain)
		e.Drain.Pump = ""
	}
	if e.WaterChange != nil {
		e.WaterChange = but(e.WaterChange)
		e.WaterChange.Out, e.WaterChange.In = "", ""
	}
	e.Lights, e.Dosers = nil, nil
	return t
}

// but is a copy, to be changed.
func but[T any](p *T) *T {
	c := *p
	return &c
}
