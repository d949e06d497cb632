package sim

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

var london = time.FixedZone("site", 0)

// midnight is where the tests' tanks start, a Monday.
var midnight = aquarium.At(time.Date(2031, 3, 3, 0, 0, 0, 0, time.UTC))

// atrium has every kind of equipment there is.
func atrium() aquarium.Tank {
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
			s("light", aquarium.Switch), s("mains", aquarium.Switch), s("floor", aquarium.Switch),
			s("air", aquarium.Temperature), s("moist", aquarium.Humidity), s("gas", aquarium.Gas),
			s("cylinder", aquarium.Mass), s("salts", aquarium.Conductivity), s("chill", aquarium.Switch),
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
			Cooling:   &aquarium.Cooling{Temperature: "water", Switch: "chill", Target: 27},
			Lights:    &aquarium.LightsSwitch{Switch: "light"},
			Power:     &aquarium.PowerSupply{Mains: "mains"},
			Floor:     &aquarium.Floor{Wet: "floor"},
			Room:      &aquarium.Room{Temperature: "air", Humidity: "moist", CO2: "gas"},
		},
	}
}

func BenchmarkFortnight(b *testing.B) {
	var rs []aquarium.Reading
	tank := atrium()
	tank.Sensors = tank.Sensors[:12]
	for b.Loop() {
		for seed := range uint64(5) {
			k := New(tank, "quillmere-library", london, Options{Seed: seed, Start: midnight})
			for m := range 14 * 24 * 60 {
				k.Advance(midnight.Add(time.Duration(m) * time.Minute))
				rs = k.AppendReadings(rs[:0])
			}
		}
	}
	b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N), "ms/fortnight-of-5")
}

func start(o Options) *Tank {
	o.Start = midnight
	if o.Seed == 0 {
		o.Seed = 7
	}
	return New(atrium(), "quillmere-library", london, o)
}

// watch takes the tank from where it is to the end, a minute at a time, and
// shows every reading of one sensor.
func watch(k *Tank, id aquarium.SensorID, until time.Duration, show func(at time.Duration, v float64)) {
	var rs []aquarium.Reading
	for at := k.At(); at < midnight.Add(until); {
		at = at.Add(time.Minute)
		k.Advance(at)
		rs = k.AppendReadings(rs[:0])
		for _, r := range rs {
			if r.Sensor.Sensor == id {
				show(at.Sub(midnight), r.Value)
			}
		}
	}
}

func reading(k *Tank, id aquarium.SensorID) (float64, bool) {
	for _, r := range k.Readings() {
		if r.Sensor.Sensor == id {
			return r.Value, true
		}
	}
	return 0, false
}

func hours(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }

func at(h float64) aquarium.Instant { return midnight.Add(hours(h)) }

func between(t *testing.T, what string, got, lo, hi float64) {
	t.Helper()
	if !(got >= lo && got <= hi) {
		t.Errorf("%s: got %.4g, want %g to %g", what, got, lo, hi)
	}
}
