package detect_test

import (
	"fmt"
	"testing"
	"time"

	"lentic/alert/detect"
	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/collector/sim"
)

var start = aquarium.At(time.Date(2031, 3, 2, 0, 0, 0, 0, time.UTC))

// tank is a healthy one with everything that this version looks at.
func tank() aquarium.Tank {
	sensor := func(id string, q aquarium.Quantity) aquarium.Sensor {
		return aquarium.Sensor{ID: aquarium.SensorID(id), Quantity: q}
	}
	return aquarium.Tank{
		ID: "atrium", Name: "Atrium island", Substrate: aquarium.Inert, AlkalinityDKH: 4,
		Lights: &aquarium.Span{From: 600, To: 1080},
		Size:   aquarium.Size{LengthCM: 150, WidthCM: 60, FillCM: 52, DisplacedL: 40},
		Limits: aquarium.Limits{PH: &aquarium.Range{Lo: 6.1, Hi: 8.4}, Temperature: &aquarium.Range{Lo: 22, Hi: 28}, CO2: 50},
		Sensors: []aquarium.Sensor{
			sensor("ph", aquarium.PH), sensor("water", aquarium.Temperature), sensor("level", aquarium.Level),
			sensor("flow-a", aquarium.Flow), sensor("flow-b", aquarium.Flow), sensor("valve", aquarium.Switch),
			sensor("topoff", aquarium.Switch), sensor("heat", aquarium.Switch), sensor("mains", aquarium.Switch),
			sensor("wet", aquarium.Switch), sensor("store", aquarium.Volume), sensor("refill", aquarium.Switch),
		},
		Equipment: aquarium.Equipment{
			CO2:       &aquarium.CO2{PH: "ph", Target: 6.6, Band: 0.05, Valve: "valve", Hours: &aquarium.Span{From: 480, To: 1020}},
			TopOff:    &aquarium.TopOff{Level: "level", BandMM: 4, Pump: "topoff", RateLH: 90, From: "store"},
			Filters:   []aquarium.Filter{{ID: "a", Flow: "flow-a", RatedLH: 1100}, {ID: "b", Flow: "flow-b", RatedLH: 1100, Stops: []aquarium.Stop{{At: 750, For: 10 * time.Minute}}}},
			Reservoir: &aquarium.Reservoir{Volume: "store", CapacityL: 180, Refill: "refill", ProductionLH: 70},
			Heater:    &aquarium.Heater{Temperature: "water", Switch: "heat", Target: 24.5},
			Power:     &aquarium.PowerSupply{Mains: "mains"},
			Floor:     &aquarium.Floor{Wet: "wet"},
		},
	}
}

// liveTank lets a simulated tank live and a watch of the site look at it.
func liveTank(site aquarium.Site, inside aquarium.Tank, seed uint64, every, lasts time.Duration, faults ...sim.Planned) []aquarium.Transition {
	return live(site, inside, sim.Options{Seed: seed, Start: start, Faults: faults}, every, lasts)
}

func live(site aquarium.Site, inside aquarium.Tank, o sim.Options, every, lasts time.Duration) []aquarium.Transition {
	t := sim.New(inside, site.ID, site.Timezone, o)
	meaning := map[aquarium.SensorID]*measure.Deriver{}
	for _, c := range site.Tanks[0].Sensors {
		meaning[c.ID] = measure.For(aquarium.SensorKey{Site: site.ID, Tank: site.Tanks[0].ID, Sensor: c.ID}, c)
	}
	w := detect.New(site)
	var ts []aquarium.Transition
	var rs []aquarium.Reading
	next := o.Start
	for tick := o.Start; tick <= o.Start.Add(lasts); tick = tick.Add(aquarium.Step) {
		if tick >= next {
			next = next.Add(every)
			t.Advance(tick)
			rs = t.AppendReadings(rs[:0])
			for _, r := range rs {
				if m := meaning[r.Sensor.Sensor]; m != nil {
					if x, ok := m.Sample(r); ok {
						w.Observe(x)
					}
				}
			}
		}
		ts = append(ts, w.Tick(tick)...)
	}
	return ts
}

func place(t aquarium.Tank) aquarium.Site {
	return aquarium.Site{ID: "quillmere-library", Name: "Quillmere Library", Timezone: time.UTC, Tanks: []aquarium.Tank{t}}
}

// blinded is the tank as lentic sees it without its switches.
func blinded(t aquarium.Tank) aquarium.Tank {
	var keep []aquarium.Sensor
	for _, s := range t.Sensors {
		if s.Quantity != aquarium.Switch {
			keep = append(keep, s)
		}
	}
	t.Sensors = keep
	co2, top, store := *t.Equipment.CO2, *t.Equipment.TopOff, *t.Equipment.Reservoir
	co2.Valve, top.Pump, store.Refill = "", "", ""
	t.Equipment.CO2, t.Equipment.TopOff, t.Equipment.Reservoir = &co2, &top, &store
	t.Equipment.Power, t.Equipment.Floor = nil, nil
	return t
}

func say(ts []aquarium.Transition) (s string) {
	for _, x := range ts {
		s += fmt.Sprintf("\n  %v %s %s/%s %s %v %v", x.At.Sub(start), x.Event, x.Identity.Cause, x.Identity.Equipment, x.Priority, x.Evidence.Value, x.Evidence.Facts)
	}
	return s
}

// TestHealthyFortnight: the tanks of a simulation that knows nothing of the
// detectors live for two weeks and nobody is woken.
func TestHealthyFortnight(t *testing.T) {
	seeds := uint64(3)
	if testing.Short() {
		seeds = 1
	}
	for seed := range seeds {
		for _, every := range []time.Duration{10 * time.Second, time.Minute} {
			for _, see := range []struct {
				name string
				as   func(aquarium.Tank) aquarium.Tank
			}{{"all", func(t aquarium.Tank) aquarium.Tank { return t }}, {"no switches", blinded}} {
				t.Run(fmt.Sprint(seed, "/", every, "/", see.name), func(t *testing.T) {
					if got := liveTank(place(see.as(tank())), tank(), seed, every, 14*24*time.Hour); len(got) != 0 {
						t.Errorf("raised%s", say(got))
					}
				})
			}
		}
	}
}

// TestFaults: each simulated fault is told under its name, in time, and as
// nothing else.
func TestFaults(t *testing.T) {
	day := start.Add(2*24*time.Hour + 13*time.Hour) // dosing hours, lights on
	night := start.Add(2*24*time.Hour + 3*time.Hour)
	tests := []struct {
		name    string
		fault   sim.Planned
		cause   aquarium.Cause
		within  time.Duration
		also    []aquarium.Cause // what may be told besides
		watched bool             // needs the switches
	}{
		{"stuck open by day", sim.Planned{Fault: sim.CO2StuckOpen, At: day}, aquarium.CO2Overshoot, 50 * time.Minute, []aquarium.Cause{aquarium.CO2ValveStuck}, false},
		{"commanded open", sim.Planned{Fault: sim.CO2CommandedOpen, At: day}, aquarium.CO2Overshoot, 80 * time.Minute, []aquarium.Cause{aquarium.CO2ValveStuck}, false}, // without a valve switch nobody can tell which
		{"stuck open by night", sim.Planned{Fault: sim.CO2StuckOpen, At: night}, aquarium.CO2ValveStuck, 60 * time.Minute, []aquarium.Cause{aquarium.CO2Overshoot}, false},
		{"pump does not stop", sim.Planned{Fault: sim.TopOffRunaway, At: day}, aquarium.TopOffRunaway, 9 * time.Minute, []aquarium.Cause{aquarium.FloorWet}, false},
		{"siphon", sim.Planned{Fault: sim.TopOffSiphon, At: day}, aquarium.TopOffRunaway, 10 * time.Minute, []aquarium.Cause{aquarium.FloorWet}, true},
		{"filter a stalls", sim.Planned{Fault: sim.FilterStall, At: day, Equipment: "a"}, aquarium.FilterStalled, 3 * time.Minute, nil, false},
		{"filter a stalls after a power cut", sim.Planned{Fault: sim.FilterStallAfterPowerCut, At: day, Until: day.Add(20 * time.Minute), Equipment: "a"}, aquarium.FilterStalled, 25*time.Minute + 10*time.Second, []aquarium.Cause{aquarium.PowerLost}, true},
		{"power cut", sim.Planned{Fault: sim.PowerCut, At: day, Until: day.Add(20 * time.Minute)}, aquarium.PowerLost, 3 * time.Minute, nil, true},
		{"wet floor", sim.Planned{Fault: sim.FloorWet, At: day, Until: day.Add(time.Hour)}, aquarium.FloorWet, 70 * time.Second, nil, true},
		{"sensor silent", sim.Planned{Fault: sim.SensorSilent, At: day, Sensor: "flow-a"}, aquarium.SensorSilent, 10 * time.Minute, nil, false},
		{"all silent", sim.Planned{Fault: sim.SensorSilent, At: day}, aquarium.SiteSilent, 20 * time.Minute, nil, false},
		{"pump dead", sim.Planned{Fault: sim.TopOffDead, At: day, Until: day.Add(12 * time.Hour)}, "", 0, nil, true},
		// The valve is opened up to half an hour later, and 60 min of asking are allowed.
		{"cylinder empty", sim.Planned{Fault: sim.CO2CylinderEmpty, At: day, Until: day.Add(12 * time.Hour)}, aquarium.CO2NotDosing, 90 * time.Minute, nil, false},
		{"heater stuck on", sim.Planned{Fault: sim.HeaterStuckOn, At: day}, aquarium.HeaterStuckOn, 4 * time.Hour, []aquarium.Cause{aquarium.TemperatureHigh}, false},
	}
	for _, c := range tests {
		for _, every := range []time.Duration{10 * time.Second, time.Minute} {
			seeds := uint64(2)
			if c.fault.Fault == sim.TopOffSiphon {
				seeds = 10
			}
			for seed := range seeds {
				for _, blind := range []bool{false, true} {
					if blind && c.watched {
						continue
					}
					t.Run(fmt.Sprint(c.name, "/", every, "/", seed, "/blind ", blind), func(t *testing.T) {
						seen := tank()
						if blind {
							seen = blinded(seen)
						}
						lasts := c.fault.At.Sub(start) + max(2*time.Hour, c.within+time.Hour)
						var told aquarium.Instant
						got := liveTank(place(seen), tank(), seed, every, lasts, c.fault)
						for _, x := range got {
							ok := x.Identity.Cause == c.cause
							for _, a := range c.also {
								ok = ok || x.Identity.Cause == a
							}
							if ok && told == 0 && (x.Identity.Cause == c.cause || x.Identity.Cause == aquarium.CO2ValveStuck) && (x.Event == aquarium.Raised || x.Event == aquarium.Renamed) {
								told = x.At
							}
							if !ok && x.Event != aquarium.Suppressed && x.Event != aquarium.Returned {
								t.Errorf("told as %s:%s", x.Identity.Cause, say(got))
								return
							}
						}
						if c.cause != "" && (told == 0 || told.Sub(c.fault.At) > c.within) {
							t.Errorf("%s told %v after it began, want within %v:%s", c.cause, told.Sub(c.fault.At), c.within, say(got))
						}
					})
				}
			}
		}
	}
}
