package detect

import (
	"maps"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

const (
	h = time.Hour
	m = time.Minute
)

// scenario is one story of one cause.
type scenario struct {
	name    string
	paths   map[string]string // what differs from calm
	gone    []aquarium.SensorID
	change  func(*aquarium.Tank)
	beside  bool // with a second tank, of which only the mains are known
	remote  map[string]string
	journal []aquarium.Entry
	lasts   time.Duration // default 4 h
	want    []want
	// every restricts the story to one reporting interval; 0: 10 s and 60 s.
	every time.Duration
}

func (c scenario) setUp() (aquarium.Site, script) {
	site := library()
	for _, g := range c.gone {
		site = without(site, g)
	}
	if c.change != nil {
		c.change(&site.Tanks[0])
	}
	if c.beside {
		site.Tanks = append(site.Tanks, aquarium.Tank{ID: "hall", Sensors: []aquarium.Sensor{{ID: "mains", Quantity: aquarium.Switch}},
			Equipment: aquarium.Equipment{Power: &aquarium.PowerSupply{Mains: "mains"}}})
	}
	p := calm()
	maps.Copy(p, c.paths)
	s := script{paths: p, every: c.every, noise: 1, lasts: c.lasts, remote: c.remote, journal: c.journal}
	if s.lasts == 0 {
		s.lasts = 4 * h
	}
	return site, s
}

func (c scenario) intervals() []time.Duration {
	if c.every != 0 {
		return []time.Duration{c.every}
	}
	return []time.Duration{10 * time.Second, time.Minute}
}

func all() []scenario {
	var cs []scenario
	for _, part := range [][]scenario{co2Stories, phStories, waterStories, filterStories, powerStories, heatStories, silenceStories, machineStories, visitStories, vesselStories, gasStories, gasNames, sweepStories, unlikeStories} {
		cs = append(cs, part...)
	}
	return cs
}

func visit(from, to time.Duration) aquarium.Entry {
	return aquarium.Entry{ID: "v", Kind: aquarium.Visit, Site: "quillmere-library", Tank: "atrium", At: zero.Add(from), Until: zero.Add(to)}
}

// TestStories plays every story with readings each 10 s and each minute, on the
// tick and seven seconds after it.
func TestStories(t *testing.T) {
	for _, c := range all() {
		for _, every := range c.intervals() {
			for _, phase := range []time.Duration{0, 7 * time.Second} {
				t.Run(c.name+"/"+every.String()+"+"+phase.String(), func(t *testing.T) {
					site, s := c.setUp()
					s.every, s.phase = every, phase
					check(t, s.run(t, site), c.want)
				})
			}
		}
	}
}

const (
	raisedNow   = aquarium.Raised
	returnedNow = aquarium.Returned
)

var co2Stories = []scenario{
	{
		name: "the controller swings within its band",
		paths: map[string]string{"ph": "0m:7.2 60m:6.6 70m:6.54 100m:6.66 120m:6.54 150m:6.66 170m:6.54 200m:6.66",
			"valve": "0m:1 65m:0 95m:1 115m:0 145m:1 165m:0 195m:1"},
	},
	{
		name:  "a calibration moves the pH by a tenth",
		paths: map[string]string{"ph": "0m:6.62 120m:6.62 120m1s:6.52 240m:6.52"},
	},
	{
		name:  "a calibration moves the pH by a tenth at night",
		paths: map[string]string{"ph": "0m:7.2 120m:7.2 120m1s:7.1 240m:7.1"},
	},
	{
		// Told shut at 120m while the gas goes on: 0.4 pH an hour.
		name:  "the valve sticks open",
		paths: map[string]string{"ph": "0m:6.6 120m:6.55 180m:6.15 240m:5.9", "valve": "0m:1 120m:0"},
		want:  []want{{event: raisedNow, cause: aquarium.CO2ValveStuck, equipment: "co2", after: 120 * m, by: 140 * m}},
	},
	{
		name:  "the controller holds the valve open",
		paths: map[string]string{"ph": "0m:6.6 120m:6.6 150m:6.4 200m:6.15", "valve": "0m:0 100m:1"},
		want:  []want{{event: raisedNow, cause: aquarium.CO2Overshoot, equipment: "co2", after: 140 * m, by: 160 * m}},
	},
	{
		name: "no switch, dosing by hours", gone: []aquarium.SensorID{"valve"},
		change: func(t *aquarium.Tank) {
			c := *t.Equipment.CO2
			c.Hours = &aquarium.Span{From: 0, To: 120}
			t.Equipment.CO2 = &c
		},
		paths: map[string]string{"ph": "0m:6.6 120m:6.55 180m:6.15 240m:5.9"},
		want:  []want{{event: raisedNow, cause: aquarium.CO2ValveStuck, equipment: "co2", after: 120 * m, by: 140 * m}},
	},
	{
		name: "no switch, no hours", gone: []aquarium.SensorID{"valve"},
		paths: map[string]string{"ph": "0m:6.6 100m:6.6 160m:6.2 200m:6.2"},
		// Under its band from 107m on the valve must be shut; 6.4 is passed at 130m.
		want: []want{{event: raisedNow, cause: aquarium.CO2ValveStuck, equipment: "co2", after: 110 * m, by: 127 * m}},
	},
	{
		name:   "estimated CO2 passes its bound before the pH is far under its target",
		change: func(t *aquarium.Tank) { t.Limits.CO2 = 35 },
		// 35 mg/l at 4 dKH and 24.5 Cel is about pH 6.58, passed at 123m.
		paths: map[string]string{"ph": "0m:6.6 120m:6.6 150m:6.45 240m:6.45", "valve": "0m:1"},
		want:  []want{{event: raisedNow, cause: aquarium.CO2Overshoot, equipment: "co2", after: 122 * m, by: 133 * m}},
	},
	{
		name:   "an active substrate's estimate raises nothing",
		change: func(t *aquarium.Tank) { t.Limits.CO2 = 35; t.Substrate = aquarium.Active },
		paths:  map[string]string{"ph": "0m:6.6 120m:6.6 150m:6.45 240m:6.45", "valve": "0m:1"},
	},
	{
		name:  "the cylinder is shut by hand and the water recovers",
		paths: map[string]string{"ph": "0m:6.6 60m:6.6 100m:6.2 240m:6.7", "valve": "0m:1 65m:0"},
		lasts: 4 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.CO2ValveStuck, equipment: "co2", after: 65 * m, by: 85 * m},
			{event: aquarium.Renamed, cause: aquarium.CO2Overshoot, equipment: "co2", after: 100 * m, by: 140 * m},
			{event: returnedNow, cause: aquarium.CO2Overshoot, equipment: "co2", after: 175 * m, by: 195 * m},
		},
	},
}

var phStories = []scenario{
	{
		name: "pH under its bound without any CO2", change: func(t *aquarium.Tank) { t.Equipment.CO2 = nil; t.Limits.CO2 = 0 },
		paths: map[string]string{"ph": "0m:6.4 240m:6.0 300m:6.0"}, lasts: 5 * h,
		want: []want{{event: raisedNow, cause: aquarium.PHLow, after: 180 * m, by: 192 * m}},
	},
	{
		name: "pH falls to its bound within the hour", change: func(t *aquarium.Tank) { t.Equipment.CO2 = nil; t.Limits.CO2 = 0 },
		paths: map[string]string{"ph": "0m:7 120m:7 210m:6.15 240m:6.15"},
		want: []want{
			{event: raisedNow, cause: aquarium.PHFalling, after: 140 * m, by: 180 * m},
			{event: returnedNow, cause: aquarium.PHFalling, after: 210 * m, by: 235 * m},
		},
	},
	{ // a reactor holds what came while the water stood still, and gives it off after that
		name: "gas that gathered while the filters paused comes when the valve has shut", lasts: 3 * h,
		change: func(t *aquarium.Tank) {
			t.Limits.PH.Lo = 6.3
			for i := range t.Equipment.Filters {
				t.Equipment.Filters[i].Stops = []aquarium.Stop{{At: 80, For: 12 * m}}
			}
		},
		paths: map[string]string{"ph": "0m:6.6 60m:6.66 81m:6.6 92m:6.59 100m:6.54 116m:6.46 130m:6.45 240m:6.66", "valve": "0m:0 60m:1 100m:0",
			"flow-a": "0m:900 80m:900 80m1s:0 92m:0 92m1s:900", "flow-b": "0m:900 80m:900 80m1s:0 92m:0 92m1s:900"},
	},
	{ // as nothing explains that the valve let in
		name: "pH falls with the valve shut, far above the target", lasts: 160 * m,
		change: func(t *aquarium.Tank) {
			t.Limits.PH.Lo, t.Limits.CO2, t.Equipment.CO2.Target, t.Substrate = 6.3, 0, 6.2, aquarium.Active
		},
		paths: map[string]string{"ph": "0m:7 60m:7 160m:6.35", "valve": "0m:0"},
		want:  []want{{event: raisedNow, cause: aquarium.PHFalling, equipment: "co2", after: 80 * m, by: 160 * m}},
	},
	{
		name: "pH above its bound", paths: map[string]string{"ph": "0m:8 60m:8.3 120m:8.6 180m:8.6 200m:8.2"},
		want: []want{
			{event: raisedNow, cause: aquarium.PHHigh, equipment: "co2", after: 80 * m, by: 100 * m},
			{event: returnedNow, cause: aquarium.PHHigh, equipment: "co2", after: 180 * m, by: 210 * m},
		},
	},
}

var waterStories = []scenario{
	{
		name:  "top-offs as every day",
		paths: map[string]string{"level": "0m:-3.7 60m:-4 65m:4 240m:3.4", "topoff": "0m:0 60m:1 65m:0"},
	},
	{
		name: "top-offs as every day, no switch", gone: []aquarium.SensorID{"topoff"},
		paths: map[string]string{"level": "0m:-3.7 60m:-4 65m:4 240m:3.4"},
	},
	{
		name:  "a splash",
		paths: map[string]string{"level": "0m:3 60m:3 60m10s:12 60m30s:3"},
	},
	{
		name:  "the pump does not stop",
		paths: map[string]string{"level": "0m:-3.7 60m:-4 65m:4 75m:20 90m:20 90m1s:2", "topoff": "0m:0 60m:1 75m:0"}, lasts: 3 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.TopOffRunaway, equipment: "top_off", after: 65 * m, by: 68*m + 10*time.Second},
			{event: returnedNow, cause: aquarium.TopOffRunaway, equipment: "top_off", after: 90 * m, by: 95 * m},
		},
	},
	{
		name: "the pump does not stop and no switch tells", gone: []aquarium.SensorID{"topoff"},
		paths: map[string]string{"level": "0m:-3.7 60m:-4 65m:4 75m:20 120m:20"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.TopOffRunaway, equipment: "top_off", after: 65 * m, by: 68*m + 10*time.Second}},
	},
	{
		// 8 mm of 0.9 l/mm at 90 l/h need 4.8 min.
		name:  "the pump runs and the level does not rise as it should",
		paths: map[string]string{"level": "0m:-4 60m:-4 80m:2 90m:2", "topoff": "0m:0 60m:1 90m:0"}, lasts: 85 * m,
		want: []want{{event: raisedNow, cause: aquarium.TopOffRunaway, equipment: "top_off", after: 60 * m, by: 72 * m}},
	},
	{
		name: "a pump with nothing but its switch runs for too long", change: func(t *aquarium.Tank) { t.Equipment.TopOff = &aquarium.TopOff{Pump: "topoff", RateLH: 90, BandMM: 4} },
		paths: map[string]string{"topoff": "0m:0 60m:1 90m:0"}, lasts: 2 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.TopOffRunaway, equipment: "top_off", after: 69 * m, by: 72 * m},
			{event: returnedNow, cause: aquarium.TopOffRunaway, equipment: "top_off", after: 90 * m, by: 95 * m},
		},
	},
	{
		name: "water siphons in slowly with the pump off", every: 10 * time.Second,
		paths: map[string]string{"level": "0m:0 60m:-1 90m:5.5 120m:12"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.TopOffRunaway, equipment: "top_off", after: 60 * m, by: 70 * m}},
	},
	{
		name: "water siphons in slowly with the pump off, seen once a minute", every: time.Minute,
		paths: map[string]string{"level": "0m:0 60m:-1 90m:5.5 120m:12"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.TopOffRunaway, equipment: "top_off", after: 60 * m, by: 71 * m}},
	},
	{
		name:  "water siphons in with the pump off",
		paths: map[string]string{"level": "0m:0 60m:-1 90m:12 120m:25"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.TopOffRunaway, equipment: "top_off", after: 60 * m, by: 70*m + 10*time.Second}},
	},
	{
		name: "a foot on the floor's sensor", every: 10 * time.Second, paths: map[string]string{"wet": "0m:0 60m:1 60m10s:0"},
	},
	{
		name: "water on the floor", paths: map[string]string{"wet": "0m:0 60m:1 90m:0"},
		want: []want{
			{event: raisedNow, cause: aquarium.FloorWet, equipment: "floor", after: 60*m - 1, by: 61 * m},
			{event: returnedNow, cause: aquarium.FloorWet, equipment: "floor", after: 90 * m, by: 105 * m},
		},
	},
}

var filterStories = []scenario{
	{
		name: "one of two filters stalls", paths: map[string]string{"flow-a": "0m:900 60m:900 60m1s:0 100m:0 100m1s:900"},
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63*m + 10*time.Second, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "a", after: 100 * m, by: 106 * m},
		},
	},
	{ // mains that is heard of for the first time has not come back
		name: "one stalls half a minute after the first that is heard of the tank", paths: map[string]string{"flow-a": "0m:900 30s:900 31s:0"}, lasts: time.Hour,
		want: []want{{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 30 * time.Second, by: 3*m + 40*time.Second, priority: aquarium.Medium}},
	},
	{
		name: "both stall", paths: map[string]string{"flow-a": "0m:900 60m:900 60m1s:0", "flow-b": "0m:900 60m:900 60m1s:0"}, lasts: 2 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63*m + 10*time.Second, priority: aquarium.High},
			{event: aquarium.Suppressed, cause: aquarium.FilterStalled, equipment: "b", after: 60 * m, by: 63*m + 10*time.Second, priority: aquarium.High},
		},
	},
	{
		name: "both stall and one starts again", paths: map[string]string{"flow-a": "0m:900 60m:900 60m1s:0 90m:0 90m1s:900", "flow-b": "0m:900 60m:900 60m1s:0"}, lasts: 2 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63*m + 10*time.Second, priority: aquarium.High},
			{event: aquarium.Suppressed, cause: aquarium.FilterStalled, equipment: "b", after: 60 * m, by: 63*m + 10*time.Second, priority: aquarium.High},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "a", after: 90 * m, by: 96 * m},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "b", after: 90 * m, by: 96 * m, priority: aquarium.Medium},
		},
	},
	{
		name: "a planned stop", paths: map[string]string{"flow-b": "0m:900 180m:900 180m1s:0 190m:0 190m1s:900"},
	},
	{
		name: "a filter does not start again after its stop", paths: map[string]string{"flow-b": "0m:900 180m:900 180m1s:0"}, lasts: 4 * h,
		want: []want{{event: raisedNow, cause: aquarium.FilterStalled, equipment: "b", after: 194 * m, by: 195*m + 10*time.Second}},
	},
	{ // an eighth of the flow is 112 l/h
		name: "a filter is blocked and its paddle wheel turns by jerks", every: m, lasts: 80 * m,
		paths: map[string]string{"flow-a": "0m:900 59m30s:900 59m31s:70 61m20s:70 61m40s:150 62m20s:150 62m40s:70 64m20s:70 64m40s:150 65m20s:150 65m40s:70 67m20s:70 67m40s:150 68m20s:150 68m40s:70"},
		want:  []want{{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 62*m + 40*time.Second}},
	},
	{
		name: "flow is low and not gone", paths: map[string]string{"flow-a": "0m:900 60m:400"},
	},
	{
		name: "a filter runs for a moment as a visit ends, into its planned stop, and not after it", every: m, journal: []aquarium.Entry{visit(60*m, 95*m)}, lasts: 3 * h,
		paths: map[string]string{"flow-a": "0m:900 65m:900 65m1s:0 88m30s:0 88m31s:880 89m30s:880 89m31s:0"},
		change: func(t *aquarium.Tank) { // 1:30 to 1:40
			t.Equipment.Filters[0].Stops = []aquarium.Stop{{At: 90, For: 10 * time.Minute}}
		},
		want: []want{
			{event: aquarium.OutOfService, cause: aquarium.FilterStalled, equipment: "a", after: 65 * m, by: 70 * m},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "a", after: 90 * m, by: 97 * m},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 103 * m, by: 105*m + 10*time.Second},
		},
	},
	{
		name: "it stalls during a visit and stays so", journal: []aquarium.Entry{visit(50*m, 100*m)},
		paths: map[string]string{"flow-a": "0m:900 60m:900 60m1s:0"}, lasts: 2 * h,
		want: []want{
			{event: aquarium.OutOfService, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 64 * m},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 102 * m, by: 103 * m},
		},
	},
	{
		name: "a gap of five minutes", paths: map[string]string{"flow-a": "0m:900 60m:- 65m:900", "ph": "0m:6.6 60m:- 65m:6.6", "level": "0m:0 60m:- 65m:0"},
	},
}

var powerStories = []scenario{
	{
		name: "mains comes back by itself within the minute", every: 10 * time.Second, lasts: 2 * h,
		paths: map[string]string{"mains": "0m:1 60m:0 60m40s:1", "flow-a": "0m:900 60m:900 60m1s:0 60m40s:0 60m50s:900", "flow-b": "0m:900 60m:900 60m1s:0 60m40s:0 60m50s:900"},
	},
	{
		name:  "a power cut and a filter that does not start again",
		paths: map[string]string{"mains": "0m:1 60m:0 90m:1", "flow-a": "0m:900 60m:900 60m1s:0", "flow-b": "0m:900 60m:900 60m1s:0 90m:0 90m1s:900"}, lasts: 2 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.PowerLost, after: 60*m - 1, by: 63 * m},
			{event: aquarium.Suppressed, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 64 * m},
			{event: aquarium.Suppressed, cause: aquarium.FilterStalled, equipment: "b", after: 60 * m, by: 64 * m},
			{event: returnedNow, cause: aquarium.PowerLost, after: 90*m - 1, by: 93 * m},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "b", after: 90 * m, by: 95 * m},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 93*m + 30*time.Second, by: 95 * m, priority: aquarium.Medium},
		},
	},
	{ // the first reading that tells of it may come a minute late
		name: "mains is back for most of a minute before it is read", every: time.Minute, lasts: 2 * h,
		paths: map[string]string{"mains": "0m:1 60m:0 89m8s:1", "flow-a": "0m:900 60m:900 60m1s:0", "flow-b": "0m:900 60m:900 60m1s:0 89m8s:0 89m9s:900"},
		want: []want{
			{event: raisedNow, cause: aquarium.PowerLost, after: 60*m - 1, by: 63 * m},
			{event: aquarium.Suppressed, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 64 * m},
			{event: aquarium.Suppressed, cause: aquarium.FilterStalled, equipment: "b", after: 60 * m, by: 64 * m},
			{event: returnedNow, cause: aquarium.PowerLost, after: 90*m - 1, by: 93 * m},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "b", after: 90 * m, by: 95 * m},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 93 * m, by: 94*m + 8*time.Second, priority: aquarium.Medium},
		},
	},
	{
		name: "a gateway tells of the mains", remote: map[string]string{"gw1/mains": "0m:1 60m:0 90m:1"},
		change: func(t *aquarium.Tank) { t.Equipment.Power = nil }, lasts: 2 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.PowerLost, after: 60*m - 1, by: 63 * m},
			{event: returnedNow, cause: aquarium.PowerLost, after: 90*m - 1, by: 93 * m},
		},
	},
	{
		name: "every tank is dark while the gateway has mains", remote: map[string]string{"gw1/mains": "0m:1"}, beside: true,
		paths: map[string]string{"mains": "0m:1 60m:0 90m:1"}, lasts: 2 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.PowerLost, after: 60*m - 1, by: 63 * m},
			{event: returnedNow, cause: aquarium.PowerLost, after: 90*m - 1, by: 93 * m},
		},
	},
}

var heatStories = []scenario{
	{
		name: "the water gets too warm and cools", change: heaterless, paths: map[string]string{"water": "0m:27 60m:28 120m:28.6 180m:28.6 240m:27"}, lasts: 4 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.TemperatureHigh, after: 60 * m, by: 85 * m},
			{event: returnedNow, cause: aquarium.TemperatureHigh, after: 200 * m, by: 235 * m},
		},
	},
	{
		name: "the water gets too cold", change: heaterless, paths: map[string]string{"water": "0m:22.5 60m:22 120m:21.5"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.TemperatureLow, after: 60 * m, by: 90 * m}},
	},
	{
		name: "the probe is lifted for a minute", paths: map[string]string{"water": "0m:24.5 60m:24.5 60m1s:20 62m:20 62m1s:24.5"},
	},
}

var dead = map[string]string{
	"ph": "0m:6.6 60m:-", "water": "0m:24.5 60m:-", "level": "0m:0 60m:-", "flow-a": "0m:900 60m:-", "flow-b": "0m:880 60m:-",
	"valve": "0m:0 60m:-", "topoff": "0m:0 60m:-", "heat": "0m:0 60m:-", "mains": "0m:1 60m:-", "wet": "0m:0 60m:-",
}

func deadBut(id, path string) map[string]string {
	p := maps.Clone(dead)
	p[id] = path
	return p
}

var silenceStories = []scenario{
	{
		name: "a sensor falls silent", paths: map[string]string{"flow-a": "0m:900 60m:- 120m:900"}, lasts: 3 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.SensorSilent, equipment: "flow-a", after: 68 * m, by: 71 * m},
			{event: returnedNow, cause: aquarium.SensorSilent, equipment: "flow-a", after: 119 * m, by: 122 * m},
		},
	},
	{
		name: "a sensor says one strange thing and falls silent", paths: map[string]string{"water": "0m:24.5 59m59s:24.5 60m:90 60m1s:- 120m:24.5"}, lasts: 3 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.SensorSilent, equipment: "water", after: 68 * m, by: 71 * m},
			{event: returnedNow, cause: aquarium.SensorSilent, equipment: "water", after: 119 * m, by: 122 * m},
		},
	},
	{
		name: "an on-change switch without refresh is never silent", paths: map[string]string{"heat": "0m:0 60m:-"},
		change: func(t *aquarium.Tank) { t.Sensor("heat").OnChange = true },
	},
	{
		name: "an on-change sensor misses three refreshes", paths: map[string]string{"heat": "0m:0 60m:-"},
		change: func(t *aquarium.Tank) { s := t.Sensor("heat"); s.OnChange, s.Refresh = true, 15*m },
		want:   []want{{event: raisedNow, cause: aquarium.SensorSilent, equipment: "heat", after: 103 * m, by: 106 * m}},
	},
	{
		name: "the whole site falls silent", paths: dead, lasts: 4 * h,
		want: []want{{event: raisedNow, cause: aquarium.SiteSilent, after: 78 * m, by: 80 * m, priority: aquarium.Medium}},
	},
	{
		name:  "the whole site falls silent while a high alarm stands",
		paths: deadBut("wet", "0m:0 30m:1 60m:-"), lasts: 2 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.FloorWet, equipment: "floor", after: 30*m - 1, by: 31 * m},
			{event: raisedNow, cause: aquarium.SiteSilent, after: 78 * m, by: 80 * m, priority: aquarium.High},
		},
	},
	{
		name: "one sensor comes back before the others", lasts: 3 * h,
		paths: map[string]string{
			"ph": "0m:6.6 60m:- 120m:6.6", "water": "0m:24.5 60m:- 121m:24.5", "level": "0m:0 60m:- 122m:0", "flow-a": "0m:900 60m:- 122m:900", "flow-b": "0m:880 60m:- 122m:880",
			"valve": "0m:0 60m:- 122m:0", "topoff": "0m:0 60m:- 122m:0", "heat": "0m:0 60m:- 122m:0", "mains": "0m:1 60m:- 122m:1", "wet": "0m:0 60m:- 122m:0",
		},
		want: []want{
			{event: raisedNow, cause: aquarium.SiteSilent, after: 78 * m, by: 80 * m},
			{event: returnedNow, cause: aquarium.SiteSilent, after: 120*m - 1, by: 121 * m},
		},
	},
	{
		name: "lentic was deaf", paths: dead, lasts: 3 * h,
		journal: []aquarium.Entry{{ID: "d", Kind: aquarium.Deaf, At: zero.Add(60 * m), Until: zero.Add(150 * m)}},
		want:    []want{{event: raisedNow, cause: aquarium.SiteSilent, after: 169 * m, by: 171 * m}},
	},
	{
		name: "a gateway's clock is wrong", remote: map[string]string{"gw1/clock": "60m:-86400 62m:-86400"}, lasts: 3 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.GatewayClockWrong, equipment: "gw1", after: 60*m - 1, by: 60*m + 10*time.Second},
			{event: returnedNow, cause: aquarium.GatewayClockWrong, equipment: "gw1", after: 71 * m, by: 100 * m},
		},
	},
	{
		name: "an alarm stands while its sensor is silent", paths: map[string]string{"flow-a": "0m:900 60m:900 60m1s:0 80m:- 120m:0"}, lasts: 3 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63*m + 10*time.Second},
			{event: aquarium.ReadingsStopped, cause: aquarium.FilterStalled, equipment: "a", after: 88 * m, by: 91 * m},
			{event: raisedNow, cause: aquarium.SensorSilent, equipment: "flow-a", after: 88 * m, by: 91 * m},
			{event: aquarium.ReadingsBack, cause: aquarium.FilterStalled, equipment: "a", after: 119 * m, by: 122 * m},
			{event: returnedNow, cause: aquarium.SensorSilent, equipment: "flow-a", after: 119 * m, by: 122 * m},
		},
	},
}
