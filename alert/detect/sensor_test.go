package detect

import (
	"fmt"
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestWrongUnits: a unit is recognised by what it makes of a value, and nothing
// is said where both readings could be right.
func TestWrongUnits(t *testing.T) {
	site := library()
	c := &site.Tanks[0]
	sensor := func(id string, q aquarium.Quantity) {
		c.Sensors = append(c.Sensors, aquarium.Sensor{ID: aquarium.SensorID(id), Quantity: q})
	}
	sensor("air", aquarium.Temperature)
	sensor("moist", aquarium.Humidity)
	sensor("salts", aquarium.Conductivity)
	sensor("store", aquarium.Volume)
	sensor("waste", aquarium.Level)
	sensor("cylinder", aquarium.Mass)
	c.Equipment.Room = &aquarium.Room{Temperature: "air", Humidity: "moist", CO2: "gas"}
	c.Equipment.Reservoir = &aquarium.Reservoir{Volume: "store", CapacityL: 200}
	c.Equipment.Drain = &aquarium.Drain{Level: "waste", StartMM: 250, StopMM: 60, OverflowMM: 380}
	c.Equipment.CO2.Cylinder = &aquarium.Cylinder{Mass: "cylinder", TareKG: 7}
	tank := newTank(site.ID, c)
	for _, x := range []struct {
		name   string
		sensor aquarium.SensorID
		v      float64
		sent   aquarium.Unit // "": none
		means  float64
	}{
		{"Fahrenheit", "water", 76.1, "[degF]", 24.5},
		{"kelvin", "water", 297.65, "K", 24.5},
		{"warm water", "water", 33, "", 0},
		{"water far too warm", "water", 44, "", 0},
		{"a cold room", "air", 4, "", 0},
		{"a room in Fahrenheit", "air", 70, "[degF]", 190.0 / 9},
		{"millisiemens", "salts", 0.42, "mS/cm", 420},
		{"rain water", "salts", 12, "", 0},
		{"air in per cent", "gas", 0.06, "%", 600},
		{"air", "gas", 420, "", 0},
		{"humidity as a share", "moist", 0.48, "1", 48},
		{"litres a minute", "flow-a", 15, "l/min", 900},
		{"cubic metres an hour", "flow-a", 0.9, "m3/h", 900},
		{"a clogged filter", "flow-a", 60, "", 0},
		{"grams", "cylinder", 9500, "g", 9.5},
		{"kilograms taken for grams", "cylinder", 0.0095, "t", 9.5},
		{"an empty cylinder", "cylinder", 7, "", 0},
		{"centimetres of waste", "waste", 14, "cm", 140},
		{"metres of waste", "waste", 0.14, "m", 140},
		{"waste pumped out", "waste", 55, "", 0},
		{"cubic metres of water", "store", 0.15, "m3", 150},
		{"a store that runs out", "store", 8, "", 0},
		{"a level about its mark says nothing", "level", 0.4, "", 0},
	} {
		m, means, ok := tank.mistake(tank.sensor(x.sensor), x.v)
		if ok != (x.sent != "") || ok && (m.sent != x.sent || math.Abs(means-x.means) > 1e-9) {
			t.Errorf("%s: %v is %v in %q, %v; want %v in %q", x.name, x.v, means, m.sent, ok, x.means, x.sent)
		}
	}
}

// TestStuckLimit: the limit follows from how still a sensor stands by itself.
func TestStuckLimit(t *testing.T) {
	days := func(n int, longest time.Duration, stretches int) (ds []Stillness) {
		for range n {
			ds = append(ds, Stillness{longest, stretches})
		}
		return ds
	}
	for _, c := range []struct {
		name  string
		days  []Stillness
		limit time.Duration
		known bool
	}{
		{"a pH of an hour's control", days(7, 6*time.Minute, 900), time.Hour, true},
		{"a level of a millimetre, first day", days(1, 50*time.Minute, 200), 198 * time.Minute, true}, // 1.25 ln(2e7)/ln(200) = 3.97 times
		{"the same after a week", days(7, 50*time.Minute, 200), 115 * time.Minute, true},
		{"a scale that moves every two hours", days(7, 2*time.Hour, 20), 0, false},
		{"nothing known", nil, 0, false},
	} {
		limit, known := stuckLimit(c.days)
		if known != c.known || (limit-c.limit).Abs() > time.Minute {
			t.Errorf("%s: %v, %v; want %v, %v", c.name, limit, known, c.limit, c.known)
		}
	}
}

// TestStuck: a probe that repeats itself is told within two hours on its second
// day, and a filter that stands still is not taken for a sensor that does.
func TestStuck(t *testing.T) {
	for _, every := range []time.Duration{10 * time.Second, time.Minute} {
		site := library()
		s := script{paths: calm(), every: every, noise: 1, lasts: 32 * h}
		s.paths["flow-b"] = "0m:880 1600m:880 1600m1s:0"
		xs := s.samples(t, site)
		frozen := zero.Add(28 * h)
		for i := range xs {
			if xs[i].Sensor.Sensor == "ph" && xs[i].At > frozen {
				xs[i].Value = 6.6
			}
			if xs[i].Sensor.Sensor == "flow-a" && xs[i].At > frozen { // it trickles, and that is told
				xs[i].Value = 60
			}
		}
		var told []aquarium.Transition
		w := New(site)
		for _, x := range s.play(w, xs, 0, s.lasts) {
			if x.Identity.Cause == aquarium.SensorStuck {
				told = append(told, x)
			}
		}
		if len(told) != 1 || told[0].Identity.Equipment != "ph" || told[0].At.Sub(frozen) > 2*h {
			t.Errorf("%v:%s\nwant the pH within two hours of 28 h", every, brief(told))
		}
	}
}

// TestFreshStart: of the first readings nothing is told that needs to know the
// sensor.
func TestFreshStart(t *testing.T) {
	site := library()
	s := script{paths: calm(), every: time.Minute, lasts: 20 * h} // no noise at all
	if ts := s.run(t, site); len(ts) != 0 {
		t.Errorf("told%s", brief(ts))
	}
}

// TestUsuallyThere: a tank whose gas never brings it down to its target does so
// every day, and that is told once, on the day when nothing is known of it.
func TestUsuallyThere(t *testing.T) {
	site := library()
	s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 4 * 24 * h}
	ph, valve := "", ""
	for i := range 4 { // the plants take all there is from the third hour on
		d := i * 24 * 60
		ph += pathAt(d, 0, 7.2) + pathAt(d, 8*60, 7.2) + pathAt(d, 10*60, 6.8) + pathAt(d, 11*60, 6.9) + pathAt(d, 17*60, 6.9) + pathAt(d, 23*60, 7.2)
		valve += pathAt(d, 0, 0) + pathAt(d, 8*60, 1) + pathAt(d, 17*60, 0)
	}
	s.paths["ph"], s.paths["valve"] = ph, valve
	raised := 0
	for _, x := range s.run(t, site) {
		if x.Identity.Cause == aquarium.CO2NotDosing && x.Event == aquarium.Raised {
			if raised++; x.At > zero.Add(24*h) {
				t.Errorf("told at %v", x.At.Sub(zero))
			}
		}
	}
	if raised > 1 {
		t.Errorf("told %d times", raised)
	}
}

func pathAt(day, minute int, v float64) string { return fmt.Sprintf("%dm:%g ", day+minute, v) }

// TestSilentAmongChanges: at a site whose sensors all tell their changes only, minutes
// pass without a word from any: one that has fallen silent for good is told once.
func TestSilentAmongChanges(t *testing.T) {
	site := library()
	tank := &site.Tanks[0]
	for i := range tank.Sensors {
		tank.Sensors[i].OnChange, tank.Sensors[i].Refresh = true, 15*m
	}
	s := script{paths: calm(), every: 7 * m, lasts: 8 * h}
	s.paths["ph"] = "0m:6.6 61m:-"
	check(t, s.run(t, site), []want{{event: raisedNow, cause: aquarium.SensorSilent, equipment: "ph", after: 100 * m, by: 116 * m}})
}
