package detect

import (
	"maps"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// silences are alarms that stand when their readings stop, and when those are to
// be last known: with the sensor's own silence or its site's.
var silences = []struct {
	scenario
	id       aquarium.Identity
	from, by time.Duration // 0: never
	back     time.Duration // 0: not within the story
}{
	{
		scenario: scenario{name: "its sensor", paths: map[string]string{"flow-a": "0m:900 60m:900 60m1s:0 80m:- 120m:0"}},
		id:       aquarium.Identity{Tank: "atrium", Cause: aquarium.FilterStalled, Equipment: "a"}, from: 89 * m, by: 91 * m, back: 120 * m,
	},
	{
		scenario: scenario{name: "another sensor", paths: map[string]string{"flow-a": "0m:900 60m:900 60m1s:0", "flow-b": "0m:900 80m:-"}},
		id:       aquarium.Identity{Tank: "atrium", Cause: aquarium.FilterStalled, Equipment: "a"},
	},
	{
		scenario: scenario{name: "a gap that is no silence", paths: map[string]string{"flow-a": "0m:900 60m:900 60m1s:0 80m:- 88m:0"}},
		id:       aquarium.Identity{Tank: "atrium", Cause: aquarium.FilterStalled, Equipment: "a"},
	},
	{
		scenario: scenario{name: "a switch that only tells of changes, with its site", paths: deadBut("wet", "0m:0 30m:1 60m:-"),
			change: func(t *aquarium.Tank) { t.Sensor("wet").OnChange = true }},
		id: aquarium.Identity{Tank: "atrium", Cause: aquarium.FloorWet, Equipment: "floor"}, from: 79 * m, by: 81 * m,
	},
	{
		scenario: scenario{name: "a switch that only tells of changes, alone", paths: map[string]string{"wet": "0m:0 30m:1 60m:-"},
			change: func(t *aquarium.Tank) { t.Sensor("wet").OnChange = true }},
		id: aquarium.Identity{Tank: "atrium", Cause: aquarium.FloorWet, Equipment: "floor"},
	},
	{
		// The gateway says that the mains are gone and dies with its battery.
		scenario: scenario{name: "a power cut", remote: map[string]string{"gw1/mains": "0m:1 60m:0 90m:- 150m:0"}, paths: deadBut("mains", "0m:-")},
		id:       aquarium.Identity{Cause: aquarium.PowerLost}, from: 109 * m, by: 111 * m, back: 150 * m,
	},
	{
		scenario: scenario{name: "a stalled filter in a power cut",
			paths: map[string]string{"flow-a": "0m:900 50m:900 50m1s:0 60m:- 90m:0", "mains": "0m:1 60m:0 90m:1", "flow-b": "0m:900 60m:- 90m:900"}},
		id: aquarium.Identity{Tank: "atrium", Cause: aquarium.FilterStalled, Equipment: "a"}, from: 69 * m, by: 71 * m, back: 90 * m,
	},
	{
		scenario: scenario{name: "a crash whose pH stops, while others are heard", paths: map[string]string{"ph": "0m:6.6 60m:6.55 120m:6.15 130m:- 170m:6.1", "valve": "0m:1 60m:0"}},
		id:       aquarium.Identity{Tank: "atrium", Cause: aquarium.CO2ValveStuck, Equipment: "co2"}, from: 139 * m, by: 141 * m, back: 170 * m,
	},
	{
		scenario: scenario{name: "a runaway whose level stops while the pump is heard", paths: map[string]string{"level": "0m:0 60m:-4 65m:4 75m:20 90m:- 130m:20", "topoff": "0m:0 60m:1 80m:0 95m:1 100m:0"}},
		id:       aquarium.Identity{Tank: "atrium", Cause: aquarium.TopOffRunaway, Equipment: "top_off"}, from: 99 * m, by: 101 * m, back: 130 * m,
	},
	{
		scenario: scenario{name: "lentic was deaf", paths: map[string]string{"flow-a": "0m:900 60m:900 60m1s:0 80m:- 100m:0"},
			journal: []aquarium.Entry{{ID: "d", Kind: aquarium.Deaf, At: zero.Add(80 * m), Until: zero.Add(99 * m)}}},
		id: aquarium.Identity{Tank: "atrium", Cause: aquarium.FilterStalled, Equipment: "a"},
	},
}

// TestLastKnown: an alarm whose readings stop goes on standing, says so when its
// sensor or its site is silent, and takes it back with the first new reading.
// Neither raises or returns anything.
func TestLastKnown(t *testing.T) {
	for _, c := range silences {
		t.Run(c.name, func(t *testing.T) {
			c.every, c.lasts = 30*time.Second, 3*h
			site, s := c.setUp()
			s.every = c.every
			c.id.Site = site.ID
			got := s.run(t, site)
			var stopped, back time.Duration
			stands := false
			for _, x := range got {
				if x.Identity != c.id {
					continue
				}
				d := x.At.Sub(zero)
				switch x.Event {
				case aquarium.Raised:
					stands = true
				case aquarium.Returned:
					stands = false
				case aquarium.ReadingsStopped:
					if stopped = d; !x.Evidence.LastKnown || stopped < c.from || stopped > c.by {
						t.Errorf("last known at %v, want within (%v, %v]:%s", d, c.from, c.by, brief(got))
					}
				case aquarium.ReadingsBack:
					if back = d; x.Evidence.LastKnown || c.back == 0 || back < c.back || back > c.back+m {
						t.Errorf("heard again at %v, want %v:%s", d, c.back, brief(got))
					}
				}
			}
			if !stands || (stopped != 0) != (c.from != 0) || (back != 0) != (c.back != 0) {
				t.Errorf("stands %v, last known at %v, heard again at %v:%s", stands, stopped, back, brief(got))
			}
		})
	}
}

// TestLastKnownValue: what is last known is the last there was, not what was
// told when it was raised; and how bad that was is still known to a watch that
// begins then.
func TestLastKnownValue(t *testing.T) {
	site, s := silences[7].setUp()
	s.every, s.lasts = 30*time.Second, 3*h
	s.paths["ph"] = "0m:6.6 60m:6.55 120m:6.15 130m:- 170m:6.15 200m:5.9"
	s.paths = maps.Clone(s.paths)
	xs := s.samples(t, site)
	whole := s.run(t, site)
	for _, stop := range []time.Duration{135 * m, 150 * m, 165 * m} {
		w := New(site)
		s.play(w, xs, 0, stop)
		as := standing(whole, zero.Add(stop))
		if stop >= 150*m {
			if e := as[0].Evidence; !e.LastKnown || e.Value < 6.05 || e.Value > 6.2 {
				t.Errorf("at %v: evidence %+v, want last known pH 6.1", stop, e)
			}
		}
		w.Stand(as)
		got := s.play(w, xs, stop, s.lasts)
		if want := whole[len(whole)-len(got):]; brief(got) != brief(want) {
			t.Errorf("stopped at %v:%s\nwant%s", stop, brief(got), brief(want))
		}
	}
}
