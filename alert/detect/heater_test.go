package detect

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestWarmRoom: the room is what warms the water, and its sensor says so.
func TestWarmRoom(t *testing.T) {
	site := library()
	withRoom(&site.Tanks[0])
	s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 8 * h}
	const slow, fast, slower = "0m:24.5 60m:24.5 300m:26.3", "0m:24.5 60m:24.5 180m:26.3", "0m:24.5 60m:24.5 428m:25.85"
	for _, c := range []struct {
		name, air, water string
		told             bool
	}{
		{"warm", "0m:22 120m:31", slow, false},
		{"cool", "0m:21", slow, true},
		{"warm, with a heater that sticks besides", "0m:25", fast, true},
		{"warm, with a weak one that sticks", "0m:25.5", slower, true},
		{"warmer, and the water follows it", "0m:25.5 60m:25.5 120m:28", slower, false},
	} {
		s.paths["air"], s.paths["water"] = c.air, c.water
		got := s.run(t, site)
		if told := len(got) > 0; told != c.told {
			t.Errorf("a %s room:%s", c.name, brief(got))
		}
	}
}

// TestUnseenRoom: nobody tells of the room, which may be what warms the water: that is
// waited for while there are hours left before it is a degree and a half over its target.
func TestUnseenRoom(t *testing.T) {
	s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 41 * h}
	s.paths["heat"] = "0m:0"
	for _, c := range []struct {
		name, water string
		after, by   float64 // K over the target; 0: never
	}{
		{"a hot day", "0h:24.5 24h:24.5 28h:25.4 31h:25.5", 0, 0},
		{"a hotter one", "0h:24.5 12h:24.7 24h:24.65 25h:24.66 26h:24.7 27h:24.78 28h:24.91 29h:25.09 30h:25.29 33h:25.9 36h:26.2 40h:26.1", 0, 0},
		{"a weak heater, on since it was last needed", "0h:24.5 24h:24.38 25h:24.42 26h:24.51 27h:24.71 28h:24.99 29h:25.27 31h:25.77 36h:26.9", 0.8, 1.4},
		{"one after a warm night", "0h:24.5 12h:25.6 24h:25.2 25h:25.22 26h:25.28 27h:25.38 28h:25.52 29h:25.7 30h:25.9 36h:26.8 40h:26.5", 0, 0},
		{"a weak heater", "0h:24.5 24h:24.5 31h:26.5", 0.8, 1.2},
		{"one that the day helps", "0h:24.5 24h:24.5 25h:24.68 26h:24.86 27h:25.06 28h:25.3 29h:25.56 31h:26.1", 0.8, 1.4},
		{"a strong one", "0h:24.5 24h:24.5 26h:26.5", 0.6, 0.9},
	} {
		s.paths["water"] = c.water
		over, got := 0.0, s.run(t, library())
		for _, x := range got {
			if x.Event == aquarium.Raised {
				is, _ := at(parsePath(t, c.water), x.At.Sub(zero), false)
				over = is - 24.5
				break
			}
		}
		if over < c.after || over > c.by {
			t.Errorf("%s: told %.2f over the target, want %v to %v:%s", c.name, over, c.after, c.by, brief(got))
		}
	}
}

// TestDarkRise: water that took its heater a night before rises slowly through the next
// with the heater told off; a warm room would have to be there all at once.
func TestDarkRise(t *testing.T) {
	s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 33 * h} // from midnight on
	site := library()
	site.Tanks[0].Lights = &aquarium.Span{From: 600, To: 1080}
	for _, c := range []struct {
		name, water, heat string
		told              bool
	}{
		{"a weak heater sticks", "0h:24.5 20h:24.5 33h:25.3", "0h:0 1h:1 2h:0 4h:1 5h:0", true},
		{"it was not needed the night before either", "0h:24.5 20h:24.5 33h:25.3", "0h:0", false},
		{"the water cools by night", "0h:24.5 12h:24.5 20h:25.3 33h:25.15", "0h:0 1h:1 2h:0 4h:1 5h:0", false},
	} {
		s.paths["water"], s.paths["heat"] = c.water, c.heat
		got := s.run(t, site)
		if told := len(got) > 0 && got[0].Identity.Cause == aquarium.HeaterStuckOn; told != c.told || len(got) > 0 && !c.told {
			t.Errorf("%s:%s", c.name, brief(got))
		}
	}
}

// TestHeaterRises: nobody tells when the heater is on, and it brings the water from
// below its target to over it all day long: that is no rise that is usual without it.
func TestHeaterRises(t *testing.T) {
	s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 54 * h}
	path := "0m:24.4 "
	for at := 30; at < 48*60; at += 180 {
		path += fmt.Sprintf("%dm:24.2 %dm:24.8 %dm:24.8 ", at, at+60, at+90)
	}
	for _, c := range []struct {
		name, then string
		told       bool
	}{
		{"it goes on so", "2910m:24.2 2970m:24.8 3000m:24.8 3090m:24.2 3240m:24.5", false},
		{"and sticks", "2910m:24.2 3180m:25.8 3240m:25.8", true},
	} {
		s.paths["water"] = path + c.then
		got := s.run(t, without(library(), "heat"))
		if told := len(got) > 0; told != c.told {
			t.Errorf("%s:%s", c.name, brief(got))
		}
	}
}

// TestSiteWarms: another tank of the site tells of the room that nobody else does; one whose
// heater sticks on such a day is warmed by more.
func TestSiteWarms(t *testing.T) {
	for _, c := range []struct {
		name, water, other string
		told               bool
	}{
		{"both", "0h:24.5 24h:24.5 30h:27", "0h:23 24h:23.2 30h:25.2", false},
		{"it alone", "0h:24.5 24h:24.5 30h:27", "0h:23 30h:23", true},
		{"the other half as fast", "0h:24.5 24h:24.5 30h:27", "0h:23 24h:23.2 30h:24.3", true},
		{"the other, which its own heater warms up to its target", "0h:24.5 24h:24.5 28h:26", "0h:22 24h:21 28h:23", true},
	} {
		site := library()
		site.Tanks = append(site.Tanks, aquarium.Tank{ID: "hall", Sensors: []aquarium.Sensor{{ID: "basin", Quantity: aquarium.Temperature}},
			Equipment: aquarium.Equipment{Heater: &aquarium.Heater{Temperature: "basin", Target: 23}}})
		s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 30 * h}
		delete(s.paths, "heat")
		s.paths["water"], s.paths["basin"] = c.water, c.other
		told, got := false, s.run(t, site)
		for _, x := range got {
			told = told || x.Event == aquarium.Raised && x.Identity.Cause == aquarium.HeaterStuckOn && x.Identity.Tank == "atrium"
		}
		if told != c.told {
			t.Errorf("%s: told %v, want %v:%s", c.name, told, c.told, brief(got))
		}
	}
}

// TestHotDays: the lights warm the water by day. On the day before that kept it below
// its target, with the heater off, and today the room is warm; a heater that sticks
// comes on top of that.
func TestHotDays(t *testing.T) {
	s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 39 * h}
	s.paths["heat"] = "0m:0"
	for _, c := range []struct {
		name, water string
		told        bool
	}{
		{"warm", "0h:23.9 10h:23.9 14h:24.6 24h:24.2 33h:24.4 39h:25.5", false},
		{"and the heater sticks", "0h:23.9 10h:23.9 14h:24.6 24h:24.2 33h:24.4 35h:24.7 37h:25.6", true},
	} {
		s.paths["water"] = c.water
		got := s.run(t, library())
		if told := len(got) > 0; told != c.told {
			t.Errorf("%s:%s", c.name, brief(got))
		}
		for _, x := range got {
			if x.Identity.Cause != aquarium.HeaterStuckOn {
				t.Errorf("%s:%s", c.name, brief(got))
			}
		}
	}
}

// TestNightStays: nobody tells when the heater is on; water that stays over its target
// through the dark in a room that took the heater on other nights is heated, and in a warmer
// room, or where it cools, is not.
func TestNightStays(t *testing.T) {
	site := without(library(), "heat")
	tank := &site.Tanks[0]
	tank.Lights = &aquarium.Span{From: 600, To: 1080}
	tank.Equipment.Room = &aquarium.Room{Temperature: "air"}
	if tank.Sensor("air") == nil {
		tank.Sensors = append(tank.Sensors, aquarium.Sensor{ID: "air", Quantity: aquarium.Temperature})
	}
	for _, c := range []struct {
		name, water, air string
		told             bool
	}{
		{"a weak heater sticks", "0h:24.5 54h:24.5 68h:25.4 82h:25.4", "0h:19", true},
		{"the room is warmer than it was", "0h:24.5 54h:24.5 68h:25.4 82h:25.4", "0h:19 54h:19 68h:20.5", false},
		{"the water cools", "0h:24.5 54h:24.5 68h:25.6 82h:24.9", "0h:19", false},
	} {
		s := script{paths: calm(), every: m, noise: 1, lasts: 80 * h} // from midnight on
		delete(s.paths, "heat")
		s.paths["water"], s.paths["air"] = c.water, c.air
		got := s.run(t, site)
		if told := slices.ContainsFunc(got, func(x aquarium.Transition) bool {
			return x.Event == aquarium.Raised && x.Identity.Cause == aquarium.HeaterStuckOn
		}); told != c.told {
			t.Errorf("%s: told %v, want %v:%s", c.name, told, c.told, brief(got))
		}
	}
}
