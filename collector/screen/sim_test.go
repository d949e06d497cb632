package screen_test

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/screen"
	"lentic/collector/sim"
)

// lived is a tank with most of the sensors there are.
func lived() aquarium.Tank {
	hours := aquarium.Span{From: 8 * 60, To: 17 * 60}
	lights := aquarium.Span{From: 10 * 60, To: 18 * 60}
	s := func(id aquarium.SensorID, q aquarium.Quantity) aquarium.Sensor {
		return aquarium.Sensor{ID: id, Quantity: q}
	}
	return aquarium.Tank{
		ID: "atrium", Size: aquarium.Size{LengthCM: 150, WidthCM: 60, FillCM: 52, DisplacedL: 40},
		AlkalinityDKH: 4, Lights: &lights,
		Sensors: []aquarium.Sensor{
			s("ph", aquarium.PH), s("water", aquarium.Temperature), s("level", aquarium.Level),
			s("flow-a", aquarium.Flow), s("flow-b", aquarium.Flow), s("valve", aquarium.Switch),
			s("topoff", aquarium.Switch), s("store", aquarium.Volume), s("refill", aquarium.Switch),
			s("waste", aquarium.Level), s("waste-pump", aquarium.Switch), s("heat", aquarium.Switch),
			s("light", aquarium.Switch), s("air", aquarium.Temperature), s("moist", aquarium.Humidity), s("gas", aquarium.Gas),
			s("cylinder", aquarium.Mass), s("salts", aquarium.Conductivity),
		},
		Equipment: aquarium.Equipment{
			CO2: &aquarium.CO2{PH: "ph", Target: 6.6, Band: 0.05, Valve: "valve", Hours: &hours,
				Cylinder: &aquarium.Cylinder{Mass: "cylinder", TareKG: 7}},
			TopOff: &aquarium.TopOff{Level: "level", BandMM: 4, Pump: "topoff", RateLH: 90, From: "store"},
			Filters: []aquarium.Filter{
				{ID: "a", Flow: "flow-a", RatedLH: 1100},
				{ID: "b", Flow: "flow-b", RatedLH: 1100, Stops: []aquarium.Stop{{At: 12*60 + 30, For: 10 * time.Minute}}},
			},
			Reservoir: &aquarium.Reservoir{Volume: "store", CapacityL: 200, Refill: "refill", ProductionLH: 70},
			Drain:     &aquarium.Drain{Level: "waste", StartMM: 250, StopMM: 60, OverflowMM: 380, Pump: "waste-pump"},
			Heater:    &aquarium.Heater{Temperature: "water", Switch: "heat", Target: 24.5},
			Lights:    &aquarium.LightsSwitch{Switch: "light"},
			Room:      &aquarium.Room{Temperature: "air", Humidity: "moist", CO2: "gas"},
		},
	}
}

var monday = aquarium.At(time.Date(2031, 3, 3, 0, 0, 0, 0, time.UTC))

// play shows a screen what a simulated tank's sensors say.
func play(o sim.Options, every, lasts time.Duration, each func(aquarium.Sample)) {
	tank := lived()
	o.Start, o.Life = monday, true
	k, s := sim.New(tank, "quillmere-library", time.UTC, o), screen.New("quillmere-library", tank)
	var rs []aquarium.Reading
	for at := monday; at < monday.Add(lasts); at = at.Add(every) {
		k.Advance(at)
		rs = k.AppendReadings(rs[:0])
		for _, r := range rs {
			s.Take(aquarium.Sample{Sensor: r.Sensor, At: r.At, Value: r.Value}, each)
		}
		s.Flush(at, each)
	}
}

// TestLivedWith: in a healthy tank with all of daily life in it, its stray readings
// too, nothing but strays is marked while nobody is there; while somebody is, it is
// the electrode on its way through air and buffers.
func TestLivedWith(t *testing.T) {
	for _, tt := range []struct {
		every, lasts time.Duration
		seed         uint64
	}{{10 * time.Second, 3 * 24 * time.Hour, 61}, {time.Minute, 14 * 24 * time.Hour, 62}, {5 * time.Minute, 30 * 24 * time.Hour, 63}} {
		t.Run(tt.every.String(), func(t *testing.T) {
			visits := sim.Habit{ServiceDays: 2, Declared: 2, Undeclared: 2, Services: 0.5}.Visits(tt.seed, time.UTC, monday, monday.Add(tt.lasts))
			visited := func(at aquarium.Instant) bool {
				for _, v := range visits {
					if at >= v.At && at < v.Until().Add(time.Hour) {
						return true
					}
				}
				return false
			}
			n, strays := 0, 0
			marks := map[aquarium.SensorID]map[aquarium.Quality]int{}
			last := map[aquarium.SensorID]bool{}
			play(sim.Options{Seed: tt.seed, Visits: visits}, tt.every, tt.lasts, func(v aquarium.Sample) {
				id := v.Sensor.Sensor
				n++
				switch stray := v.Quality == aquarium.Spike && !last[id]; {
				case v.Quality.Judged():
				case stray:
					strays++
				case id != "ph" || !visited(v.At):
					if marks[id] == nil {
						marks[id] = map[aquarium.Quality]int{}
					}
					marks[id][v.Quality]++
				}
				last[id] = v.Quality == aquarium.Spike
			})
			t.Logf("%d readings, %d visits, %d strays; besides %v", n, len(visits), strays, marks)
			if len(marks) > 0 {
				t.Errorf("marked: %v", marks)
			}
			if share := float64(strays) / float64(n); share > 3e-4 {
				t.Errorf("%d of %d readings are marked as strays", strays, n)
			}
		})
	}
}

// TestFaults: what a simulated sensor says that does not work.
func TestFaults(t *testing.T) {
	begin, end := monday.Add(57*time.Hour), monday.Add(81*time.Hour)
	for _, tt := range []struct {
		fault   sim.Planned
		sensor  aquarium.SensorID
		quality aquarium.Quality
		within  time.Duration // from the fault's beginning to the first such mark
		share   float64       // of the fault's readings
	}{
		{sim.Planned{Fault: sim.SensorFrozen, Sensor: "ph"}, "ph", aquarium.Frozen, 2 * time.Hour, 0.9},
		{sim.Planned{Fault: sim.SensorFrozen, Sensor: "water"}, "water", aquarium.Frozen, 2 * time.Hour, 0.9},
		{sim.Planned{Fault: sim.SensorFrozen, Sensor: "flow-a"}, "flow-a", aquarium.Frozen, 2 * time.Hour, 0.9},
		{sim.Planned{Fault: sim.SensorSpikes, Sensor: "ph"}, "ph", aquarium.Spike, time.Hour, 0.02},
		{sim.Planned{Fault: sim.PHGround}, "ph", aquarium.Electrical, 12 * time.Hour, 0.1},
	} {
		for _, every := range []time.Duration{30 * time.Second, time.Minute} {
			t.Run(string(tt.fault.Fault)+" "+string(tt.sensor)+" "+every.String(), func(t *testing.T) {
				f := tt.fault
				f.At, f.Until = begin, end
				n, marked, first := 0, 0, time.Duration(-1)
				play(sim.Options{Seed: 71, Faults: []sim.Planned{f}}, every, 82*time.Hour, func(v aquarium.Sample) {
					if v.Sensor.Sensor != tt.sensor || v.At < begin || v.At >= end {
						return
					}
					if n++; v.Quality == tt.quality {
						if marked++; first < 0 {
							first = v.At.Sub(begin)
						}
					}
				})
				t.Logf("%d of %d readings, first after %v", marked, n, first)
				if first < 0 || first > tt.within || float64(marked) < tt.share*float64(n) {
					t.Errorf("%d of %d readings, first after %v; want %.0f %% and within %v", marked, n, first, 100*tt.share, tt.within)
				}
			})
		}
	}
}
