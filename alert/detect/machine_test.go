package detect

import (
	"cmp"
	"fmt"
	"math"
	"slices"
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
	s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 31 * h}
	s.paths["heat"] = "0m:0"
	for _, c := range []struct {
		name, water string
		after, by   float64 // K over the target; 0: never
	}{
		{"a hot day", "0h:24.5 24h:24.5 28h:25.4 31h:25.5", 0, 0},
		{"a weak heater", "0h:24.5 24h:24.5 31h:26.5", 0.8, 1.2},
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

// flows is a filter over days: its flow at the end of each, in l/h. Lines lie in
// between. Each noon it stands still for the minutes said.
func flows(start float64, pause int, ends ...float64) string {
	var b strings.Builder
	at, v := 0, start
	for i, end := range ends {
		noon := v + (end-v)/2
		fmt.Fprintf(&b, "%dm:%g ", at, v)
		if pause > 0 {
			fmt.Fprintf(&b, "%dm:%g %dm:0 %dm:0 %dm:%g ", at+719, noon, at+720, at+720+pause, at+721+pause, noon)
		}
		at, v = (i+1)*24*60, end
	}
	fmt.Fprintf(&b, "%dm:%g", at, v)
	return b.String()
}

func declining(start, perDay float64, days int) (ends []float64) {
	for i := 1; i <= days; i++ {
		ends = append(ends, start-perDay*float64(i))
	}
	return ends
}

// TestClogging: told when a fifth is gone and before a third is, with the day it
// comes to its limit right to five days; over once it is cleaned.
func TestClogging(t *testing.T) {
	for _, c := range []struct {
		name   string
		perDay float64 // l/h of 900
		days   int
	}{{"in four days", 75, 5}, {"in three weeks", 14, 22}, {"in three months", 3.3, 90}} {
		t.Run(c.name, func(t *testing.T) {
			site := library()
			ends := append([]float64{900, 900, 900, 900}, declining(900, c.perDay, c.days)...)
			s := script{paths: calm(), every: 5 * time.Minute, noise: 1, lasts: time.Duration(len(ends)+2) * day}
			cleaned := zero.Add(time.Duration(len(ends))*day + 10*h)
			s.paths["flow-a"] = flows(900, 10, ends...) + fmt.Sprintf(" %dm:%g %dm:0 %dm:0 %dm:895", len(ends)*1440+600, ends[len(ends)-1], len(ends)*1440+601, len(ends)*1440+640, len(ends)*1440+641)
			var raised, returned []aquarium.Transition
			for _, x := range s.run(t, site) {
				switch {
				case x.Identity.Cause != aquarium.FilterClogging:
				case x.Event == aquarium.Raised:
					raised = append(raised, x)
				case x.Event == aquarium.Returned:
					returned = append(returned, x)
				}
			}
			if len(raised) != 1 || len(returned) != 1 {
				t.Fatalf("raised%s\nreturned%s", brief(raised), brief(returned))
			}
			r := raised[0]
			lost := r.At.Sub(zero.Add(4*day)).Hours() / 24 * c.perDay / 900
			if lost < 0.195 || lost > 1.0/3 {
				t.Errorf("told with %.0f %% gone", 100*lost)
			}
			limit := zero.Add(4 * day).Add(time.Duration(0.33 * 900 / c.perDay * float64(day)))
			if off := r.Projected.Sub(limit); off.Abs() > 5*day {
				t.Errorf("projected %v, %v off", r.Projected, off)
			}
			if late := returned[0].At.Sub(cleaned); late < 0 || late > 5*h {
				t.Errorf("cleaned at %v, over at %v", cleaned, returned[0].At)
			}
		})
	}
}

// TestProjectedDay: with a fifth gone, by a flow told to 10 l/h, the day a filter comes
// to its limit is right to five days, whether it loses so much a day or such a share.
func TestProjectedDay(t *testing.T) {
	const clean, limit = 900.0, serviceLimit * 900
	for _, c := range []struct {
		name string
		at   func(day float64) float64
	}{
		{"so much a day, in three months", func(d float64) float64 { return clean - 3.3*d }},
		{"such a share a day, in three months", func(d float64) float64 { return clean * math.Exp(-0.0045*d) }},
		{"so much a day, in three weeks", func(d float64) float64 { return clean - 14*d }},
		{"such a share a day, in three weeks", func(d float64) float64 { return clean * math.Exp(-0.018*d) }},
	} {
		f, n := FilterLearned{}, 0
		for ; c.at(float64(n)) > 0.8*clean; n++ {
			f = f.with([]Hour{{N: 60, High: 10 * math.Round(c.at(float64(n)+0.5)/10), Low: clean / 2}})
		}
		end := float64(n)
		for c.at(end) > limit {
			end += 0.1
		}
		off := f.reaches(limit, c.at(float64(n)), zero.Add(time.Duration(n)*day)).Sub(zero).Hours()/24 - end
		if math.Abs(off) > 5 {
			t.Errorf("%s: projected %.1f days off, want at most 5", c.name, off)
		} else {
			t.Logf("%s: projected %.1f days off", c.name, off)
		}
	}
}

// TestCleanFilter: neither pauses nor a filter that gives a tenth less after a
// cleaning than before count as clogging, and what is left of the flow counts
// from the last cleaning.
func TestCleanFilter(t *testing.T) {
	site := library()
	ends := slicesOf(900, 8)
	ends = append(ends, declining(900, 10, 12)...) // to 780
	s := script{paths: calm(), every: 5 * time.Minute, noise: 1, lasts: 40 * day}
	s.paths["flow-a"] = flows(900, 60, append(append(ends, 860), slicesOf(860, 19)...)...)
	w := New(site)
	got := s.play(w, s.samples(t, site), 0, s.lasts)
	for _, x := range got {
		if x.Identity.Cause == aquarium.FilterClogging {
			t.Errorf("clogs:%s", brief(got))
		}
	}
	if f := w.Learned()[0].Filters["a"]; math.Abs(f.Clean-860) > 25 || len(f.Flows) > 20 {
		t.Errorf("clean flow %v over %d days, want 860 since its cleaning 19 days ago", f.Clean, len(f.Flows))
	}
}

// TestSkimmerOfALowLevel: what draws at the surface gives less while the level is below
// its band, and does not clog for that.
func TestSkimmerOfALowLevel(t *testing.T) {
	s := script{paths: calm(), every: 5 * time.Minute, noise: 1, lasts: 7 * day}
	s.paths["flow-a"] = "0m:900 8640m:900 8641m:560 9360m:560 9361m:900"
	s.paths["level"] = "0m:0 8640m:0 8641m:-9 9360m:-9 9361m:0"
	for _, x := range s.run(t, library()) {
		if x.Identity.Cause == aquarium.FilterClogging {
			t.Errorf("%s %v at %v", x.Event, x.Identity, x.At.Sub(zero))
		}
	}
}

func slicesOf(v float64, n int) []float64 {
	xs := make([]float64, n)
	for i := range xs {
		xs[i] = v
	}
	return xs
}

// TestUsualPause: feeding that is not announced is not told, the first time nor
// after that, at about the same time of day; another pause is; filters that do not start again
// are told five minutes after they should have.
func TestUsualPause(t *testing.T) {
	site := library()
	site.Tanks[0].Equipment.Filters[1].Stops = nil
	stop := func(at, length int) string {
		return fmt.Sprintf("%dm:900 %dm1s:0 %dm:0 %dm1s:900 ", at, at, at+length, at+length)
	}
	feed := func(lasts int) string { // 12:30 give or take, five days; the last for so long
		return "0m:900 " + stop(750, 10) + stop(1440+765, 12) + stop(2*1440+735, 9) + stop(3*1440+752, 10) + stop(4*1440+745, lasts) + stop(4*1440+1200, 10)
	}
	s := script{every: time.Minute, noise: 1, lasts: 5 * day}
	for _, c := range []struct {
		name   string
		lasts  int
		raised []time.Duration
	}{
		{"as usual", 10, []time.Duration{4*day + 1200*m}},
		{"not started again", 40, []time.Duration{4*day + 745*m + 15*m, 4*day + 1200*m}},
	} {
		s.paths = calm()
		s.paths["flow-a"], s.paths["flow-b"] = feed(c.lasts), feed(c.lasts)
		var at []time.Duration
		for _, x := range s.run(t, site) {
			if x.Event == aquarium.Raised && x.Identity.Equipment == "a" {
				at = append(at, x.At.Sub(zero))
			}
		}
		ok := len(at) == len(c.raised)
		for i := range at {
			ok = ok && at[i] > c.raised[i] && at[i] <= c.raised[i]+3*m+10*time.Second
		}
		if !ok {
			t.Errorf("%s: raised at %v, want some minutes after %v", c.name, at, c.raised)
		}
	}
}

// TestPauseInGap: readings that are missing when a pause ends make it no longer, and a
// stop that is configured is waited for no longer than that, whatever is usual.
func TestPauseInGap(t *testing.T) {
	for _, c := range []struct {
		name  string
		noon  string // the days before
		stops []aquarium.Stop
		told  time.Duration // after 12:30, by then
	}{
		{"a gap of four minutes", "%dm:900 %[2]dm1s:0 %[3]dm:- %[4]dm:900 ", nil, 15 * m},
		{"longer than is configured", "%dm:900 %[2]dm1s:0 %[4]dm:0 %[4]dm1s:900 ", []aquarium.Stop{{At: 12*60 + 30, For: 10 * m}}, 15 * m},
	} {
		site := library()
		path := "0m:900 "
		for _, at := range []int{750, 1440 + 750} {
			path += fmt.Sprintf(c.noon, at, at, at+9, at+14)
		}
		path += "3630m:900 3630m1s:0" // 12:30 of the third day
		for i := range site.Tanks[0].Equipment.Filters {
			site.Tanks[0].Equipment.Filters[i].Stops = c.stops
		}
		s := script{every: time.Minute, noise: 1, lasts: 3*day - 10*h, paths: calm()}
		s.paths["flow-a"], s.paths["flow-b"] = path, path
		var at []time.Duration
		for _, x := range s.run(t, site) {
			if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.FilterStalled && x.At > zero.Add(2*day) {
				at = append(at, x.At.Sub(zero.Add(2*day+12*h+30*m)))
			}
		}
		if len(at) != 1 || at[0] <= 10*m || at[0] > c.told+10*time.Second {
			t.Errorf("%s: told %v after the stop began, want by %v", c.name, at, c.told)
		}
	}
}

// TestPauseToldOnChange: a flow that tells its changes only, a last digit every
// minute, says nothing while the filter is off for feeding, and that is no gap;
// nor is it a spike when the filter stands still for good, within three minutes.
func TestPauseToldOnChange(t *testing.T) {
	site := library()
	tank := &site.Tanks[0]
	tank.Equipment.Filters = tank.Equipment.Filters[:1]
	flow := tank.Sensor("flow-a")
	flow.OnChange, flow.Refresh = true, 15*time.Minute
	s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 3*day + 12*h + 20*m}
	delete(s.paths, "flow-a")
	xs := s.samples(t, site)
	const stall = 3*24*60 + 12*60
	for i := range stall + 1 {
		at := zero.Add(time.Duration(i)*m + 3*time.Second)
		v := 900 + float64(i%4)*10
		switch noon := i%1440 - 1140; {
		case noon == 0 || i == stall:
			v = 0
		case noon > 0 && noon < 8:
			continue
		}
		xs = append(xs, aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: tank.ID, Sensor: "flow-a"}, At: at, Value: v})
	}
	slices.SortStableFunc(xs, func(a, b aquarium.Sample) int { return cmp.Compare(a.At, b.At) })
	check(t, s.play(New(site), xs, 0, s.lasts), []want{{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: stall * m, by: stall*m + 3*m + 10*time.Second}})
}

// TestPauseBesideAStall: one filter is broken and the other pauses as it always has.
func TestPauseBesideAStall(t *testing.T) {
	site := library()
	site.Tanks[0].Equipment.Filters[1].Stops = nil
	s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 4*day + 18*h}
	noons := ""
	for d := range 5 {
		noons += fmt.Sprintf("%[1]dm:880 %[1]dm1s:0 %[2]dm:0 %[2]dm1s:880 ", d*1440+750, d*1440+761)
	}
	s.paths["flow-b"] = "0m:880 " + noons
	s.paths["flow-a"] = "0m:880 " + noons[:strings.Index(noons, "3630m")] + "3300m:880 3300m1s:0" // for good on the third morning
	check(t, s.run(t, site), []want{{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 3300 * m, by: 3303*m + 10*time.Second}})
}

// TestFedTwiceOnItsFirstDay: a tank that lentic has known for a day may be fed in the
// morning and in the afternoon.
func TestFedTwiceOnItsFirstDay(t *testing.T) {
	site := library()
	site.Tanks[0].Equipment.Filters[1].Stops = nil
	p := "0m:900 480m:900 480m1s:0 492m:0 492m1s:900 996m:900 996m1s:0 1008m:0 1008m1s:900"
	s := script{paths: calm(), every: 10 * time.Second, noise: 1, lasts: day}
	s.paths["flow-a"], s.paths["flow-b"] = p, p
	check(t, s.run(t, site), nil)
}

// TestDoser: a day and an hour without a dose is told, and a dose ends it. A few minutes
// of which nothing is known put it off where the dose may lie in them, and nowhere else;
// so does a tank without mains, by a day and an hour from when that is back.
func TestDoser(t *testing.T) {
	for _, c := range []struct {
		name      string
		gap       int // min
		dark      string
		after, by time.Duration
	}{
		{"no gap", 0, "", 5*day + 10*h - m, 5*day + 12*h},
		{"a gap at night", 5*1440 + 200, "", 5*day + 10*h - m, 5*day + 12*h},
		{"a gap at its time", 5*1440 + 540, "", 6*day + 10*h - m, 6*day + 12*h},
		{"no mains", 0, "0m:1 7680m:0 8400m:1", 6*day + 21*h - m, 6*day + 22*h}, // 8:00 to 20:00
	} {
		t.Run(c.name, func(t *testing.T) {
			site := library()
			tank := &site.Tanks[0]
			tank.Sensors = append(tank.Sensors, aquarium.Sensor{ID: "dose", Quantity: aquarium.Switch}, aquarium.Sensor{ID: "idle", Quantity: aquarium.Switch})
			tank.Equipment.Dosers = []aquarium.Doser{{ID: "iron", Switch: "dose", MLPerDay: 5}, {ID: "spare", Switch: "idle", MLPerDay: 5}}
			s := script{paths: calm(), every: time.Minute, lasts: 9 * day}
			s.paths["idle"] = "0m:0"
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
