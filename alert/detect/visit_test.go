package detect

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// service is an hour's work at the tank.
var service = map[string]string{
	"flow-a": "0m:900 60m:900 60m1s:0 110m:0 110m1s:900", "flow-b": "0m:880 60m:880 60m1s:0 110m:0 110m1s:880",
	"ph":    "0m:6.6 61m:6.6 61m10s:8.1 63m:8.1 63m10s:7 70m:7 70m10s:4 78m:4 78m10s:6.6",
	"level": "0m:0 80m:0 95m:-150 98m:-150 108m:0",
}

// Hands at work, undeclared. The level of a hose that has burst looks the same
// for as long as the water only leaves.
var visitStories = []scenario{
	{
		name: "a service: filters off, probe in its buffers, water out and in", every: 10 * time.Second,
		paths: service,
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 61 * m, by: 65 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 120 * m, by: 140 * m},
		},
	},
	{
		name: "a service, seen each minute: what is told of its first minutes returns", every: time.Minute,
		paths: service,
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63 * m},
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 61 * m, by: 65 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "a", after: 61 * m, by: 65 * m},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 120 * m, by: 140 * m},
		},
	},
	{
		name: "a water change by hand with the filters running", paths: map[string]string{"level": "0m:0 60m:0 75m:-120 80m:-120 95m:0"},
		want: []want{
			{event: raisedNow, cause: aquarium.WaterLoss, after: 60 * m, by: 66 * m, priority: aquarium.High},
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 80 * m, by: 85 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.WaterLoss, after: 80 * m, by: 85 * m},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 110 * m, by: 130 * m},
		},
	},
	{
		name: "half the water is out and the lights warm the rest twice as fast", every: 10 * time.Second, lasts: 5 * h,
		paths: map[string]string{"flow-a": "0m:900 60m:900 60m1s:0 135m:0 135m1s:900", "flow-b": "0m:880 60m:880 60m1s:0 135m:0 135m1s:880",
			"level": "0m:0 64m:0 84m:-250 124m:-250 134m:0", "water": "0m:24.7 64m:24.85 124m:25.45 134m:25.3 300m:25.4"},
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63 * m},
			{event: raisedNow, cause: aquarium.WaterLoss, after: 64 * m, by: 70 * m},
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 124 * m, by: 130 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.WaterLoss, after: 124 * m, by: 130 * m},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "a", after: 124 * m, by: 130 * m},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 144 * m, by: 170 * m},
		},
	},
	{
		name: "water that nothing moves warms at its probe, and that is not told again once the visit is over", every: 10 * time.Second, lasts: 5 * h,
		paths: map[string]string{"flow-a": "0m:900 60m:900 60m1s:0 135m:0 135m1s:900", "flow-b": "0m:880 60m:880 60m1s:0 135m:0 135m1s:880",
			"level": "0m:0 110m:0 118m:-120 122m:-120 130m:0", "water": "0m:24.6 60m:24.6 110m:25.3 300m:25.3"},
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63 * m},
			{event: raisedNow, cause: aquarium.HeaterStuckOn, equipment: "heater", after: 90 * m, by: 110 * m},
			{event: raisedNow, cause: aquarium.WaterLoss, after: 110 * m, by: 116 * m},
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 122 * m, by: 130 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.WaterLoss, after: 122 * m, by: 130 * m},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "a", after: 122 * m, by: 130 * m},
			{event: returnedNow, cause: aquarium.HeaterStuckOn, equipment: "heater", after: 122 * m, by: 130 * m},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 140 * m, by: 170 * m},
		},
	},
	{
		name: "a hose comes off and the filter stops for it: told once, as water", paths: map[string]string{
			"level": "0m:0 60m:0 90m:-200", "flow-a": "0m:900 64m:900 64m1s:0", "flow-b": "0m:880 64m:880 64m1s:0"},
		want: []want{{event: raisedNow, cause: aquarium.WaterLoss, after: 60 * m, by: 66 * m, priority: aquarium.High}},
	},
	{
		name: "the same, and a filter that stands once the water is back is told", lasts: 7 * h, gone: []aquarium.SensorID{"topoff"},
		paths: map[string]string{"level": "0m:0 60m:0 75m:-100 150m:-100 240m:0", "flow-a": "0m:900 64m:900 64m1s:0", "flow-b": "0m:880 64m:880 64m1s:0"},
		want: []want{
			{event: raisedNow, cause: aquarium.WaterLoss, after: 60 * m, by: 66 * m, priority: aquarium.High},
			{event: returnedNow, cause: aquarium.WaterLoss, after: 220 * m, by: 270 * m},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 220 * m, by: 270 * m},
		},
	},
	{
		name: "the same, declared", journal: []aquarium.Entry{visit(55*m, 115*m)}, paths: service,
		want: []want{
			{event: aquarium.OutOfService, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63*m + 10e9},
			{event: aquarium.OutOfService, cause: aquarium.FilterStalled, equipment: "b", after: 60 * m, by: 63*m + 10e9},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "a", after: 110 * m, by: 116 * m},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "b", after: 110 * m, by: 116 * m},
		},
	},
	{
		name: "water goes on leaving after a visit that nobody declared", every: 10 * time.Second, lasts: 3 * h,
		paths: map[string]string{"flow-a": service["flow-a"], "flow-b": service["flow-b"], "ph": service["ph"],
			"level": "0m:0 85m:0 165m:-320"}, // some 220 l/h
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 61 * m, by: 65 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 117 * m, by: 120 * m}, // 40 min after the probe was back
			{event: raisedNow, cause: aquarium.WaterLoss, after: 117 * m, by: 121 * m, priority: aquarium.High},
		},
	},
	{
		// 60 l/h, of which the top-off makes good 90: down in seven minutes, up in fifteen.
		// The gas has left while the filters stood, so that the probe reads what no water
		// of before did.
		name: "the top-off makes good what leaves after a visit that nobody declared", every: time.Minute, lasts: 168 * m,
		paths: map[string]string{"flow-a": service["flow-a"], "flow-b": service["flow-b"],
			"ph":     "0m:6.6 61m:6.6 61m10s:8.1 63m:8.1 63m10s:7.2 210m:7.2",
			"level":  "0m:0 80m:0 90m:-100 98m:-100 108m:0 115m:0 119m:-4 134m:4 141m:-4 156m:4 163m:-4 178m:4 185m:-4 200m:4 207m:-4",
			"topoff": "0m:0 119m:1 134m:0 141m:1 156m:0 163m:1 178m:0 185m:1 200m:0 207m:1"},
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63 * m},
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 61 * m, by: 65 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "a", after: 61 * m, by: 65 * m},
			{event: raisedNow, cause: aquarium.WaterLoss, after: 147 * m, by: 168 * m, priority: aquarium.High}, // 40 min after the water came back
		},
	},
	{
		name: "water comes in far over its band in a visit that nobody declared", every: 10 * time.Second, lasts: 3 * h,
		paths: map[string]string{"flow-a": service["flow-a"], "flow-b": service["flow-b"], "ph": service["ph"],
			"level": "0m:0 70m:0 90m:40 150m:40"},
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 61 * m, by: 65 * m, priority: aquarium.Medium},
			{event: raisedNow, cause: aquarium.TopOffRunaway, equipment: "top_off", after: 82 * m, by: 86 * m, priority: aquarium.High},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 120 * m, by: 140 * m},
		},
	},
	{
		name: "one filter is cleaned, then the other, and water is changed: known by the second", lasts: 5 * h,
		paths: map[string]string{"flow-a": "0m:900 60m:900 60m1s:0 74m:0 74m1s:900", "flow-b": "0m:880 76m:880 76m1s:0 90m:0 90m1s:880",
			"level": "0m:0 95m:0 105m:-90 108m:-90 118m:0"},
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "a", after: 74 * m, by: 77 * m},
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 76 * m, by: 79 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 138 * m, by: 150 * m},
		},
	},
	{
		name: "by day both filters stop, and two minutes later water leaves as by a hose: somebody changes it", every: 10 * time.Second, lasts: 13 * h,
		paths: map[string]string{"flow-a": "0m:900 660m:900 660m1s:0 700m:0 700m1s:900", "flow-b": "0m:880 660m:880 660m1s:0 700m:0 700m1s:880",
			"level": "0m:0 662m:0 677m:-150 682m:-150 697m:0"},
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 662 * m, by: 665 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 710 * m, by: 730 * m},
		},
	},
	{
		name: "by day both filters stop as water begins to leave: no hands", every: 10 * time.Second, lasts: 11*h + 20*m,
		paths: map[string]string{"flow-a": "0m:900 660m:900 660m1s:0", "flow-b": "0m:880 660m:880 660m1s:0", "level": "0m:0 660m:0 675m:-150"},
		want:  []want{{event: raisedNow, cause: aquarium.WaterLoss, after: 660 * m, by: 663 * m, priority: aquarium.High}},
	},
	{
		name: "by day both filters stop, water leaves two minutes later and goes on: told when no hands have shown for forty", every: 10 * time.Second, lasts: 12 * h,
		paths: map[string]string{"flow-a": "0m:900 660m:900 660m1s:0", "flow-b": "0m:880 660m:880 660m1s:0", "level": "0m:0 662m:0 720m:-270"},
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 662 * m, by: 667 * m},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 700 * m, by: 702 * m},
			{event: raisedNow, cause: aquarium.WaterLoss, after: 700 * m, by: 702 * m, priority: aquarium.High},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 700 * m, by: 702 * m},
		},
	},
	{
		name: "a splash, and ten minutes later the only filter's hose bursts: no hands", every: 10 * time.Second,
		change: func(t *aquarium.Tank) { t.Equipment.Filters = t.Equipment.Filters[:1] },
		paths:  map[string]string{"flow-a": "0m:900 60m:900 60m1s:0", "level": "0m:0 49m:0 " + choppy(49*m, 50*m) + "60m:0 80m:-150"},
		want: []want{
			{event: raisedNow, cause: aquarium.WaterLoss, after: 60 * m, by: 63 * m, priority: aquarium.High},
		},
	},
	{
		name: "hands, and then the floor is wet while water leaves: told as if nobody were there", every: 10 * time.Second,
		paths: map[string]string{"flow-a": "0m:900 60m:900 60m1s:0", "flow-b": "0m:880 60m:880 60m1s:0",
			"level": "0m:0 58m:0 " + choppy(58*m, 62*m) + "63m:0 83m:-150", "wet": "0m:0 72m:0 72m1s:1"},
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 60 * m, by: 62 * m},
			{event: raisedNow, cause: aquarium.FloorWet, equipment: "floor", after: 72 * m, by: 73 * m},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 72 * m, by: 73 * m},
			{event: raisedNow, cause: aquarium.WaterLoss, after: 72 * m, by: 73 * m, priority: aquarium.High},
		},
	},
	{
		name: "water has run out and stays out, by a level that tells its changes: nobody put it back", every: 10 * time.Second,
		change: func(t *aquarium.Tank) { s := t.Sensor("level"); s.OnChange, s.Refresh = true, 4*h },
		paths:  map[string]string{"level": "0m:0 60m:0 75m:-150 75m1s:-"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.WaterLoss, after: 60 * m, by: 66 * m, priority: aquarium.High}},
	},
	{
		name: "hands in the water for a quarter of an hour, and a probe taken out, before any filter stops", every: 10 * time.Second,
		paths: map[string]string{"level": "0m:0 60m:0 " + choppy(60*m, 76*m) + "76m10s:0", "ph": "0m:6.6 70m:6.6 70m10s:8.4 74m:8.4 74m10s:6.6"},
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 70 * m, by: 73 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 90 * m, by: 110 * m},
		},
	},
	{
		name: "the only filter is stopped by day, and a minute later water leaves, as seen each minute", every: m, lasts: 11*h + 20*m,
		change: func(t *aquarium.Tank) { t.Equipment.Filters = t.Equipment.Filters[:1] },
		paths:  map[string]string{"flow-a": "0m:900 659m50s:900 659m51s:0", "level": "0m:0 660m50s:0 670m:-200"},
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 662 * m, by: 666 * m}, // its first pause is not told before
		},
	},
	{
		name: "a hose bursts and the probe ends in the air",
		paths: map[string]string{
			"flow-a": "0m:900 60m:900 60m1s:0", "flow-b": "0m:880 60m:880 60m1s:0",
			"level": "0m:0 62m:0 90m:-200", "ph": "0m:6.6 85m:6.6 85m10s:8.4",
		},
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63*m + 10e9},
			{event: raisedNow, cause: aquarium.WaterLoss, after: 63 * m, by: 68 * m}, // which says it of the probe too
		},
	},
}

// choppy is the path of a level in which hands make waves.
func choppy(from, until time.Duration) string {
	path := ""
	for at := from; at < until; at += 20 * time.Second {
		path += fmt.Sprintf("%v:4 %v:-4 ", at, at+10*time.Second)
	}
	return path
}

// TestVisitAtFeeding: filters that are off at their usual time do not hide whose hands
// are in the water once that leaves, and a hose that bursts then is told.
func TestVisitAtFeeding(t *testing.T) {
	site := library()
	site.Tanks[0].Equipment.Filters[1].Stops = nil
	const noon = 750 // min
	off := ""
	for d := range 3 {
		at := d*1440 + noon
		off += fmt.Sprintf("%dm:900 %dm1s:0 %dm:0 %dm1s:900 ", at, at, at+10, at+10)
	}
	last := 2*1440 + noon
	fed := fmt.Sprintf("0m:0 %dm:0 ", last-2) + choppy(time.Duration(last-2)*m, time.Duration(last+1)*m)
	out := fmt.Sprintf("%dm:0 %dm:-90 %dm:-90 %dm:0", last+2, last+12, last+14, last+24)
	burst := fmt.Sprintf("%dm:0 %dm:-150", last+12, last+32)
	for _, c := range []struct {
		name, level, flow string
		want              aquarium.Cause
		by                int
	}{
		{"hands", fed + out, "", aquarium.VisitUndeclared, 7},
		{"let out of a level that lay still until the filters had stood for a while", "0m:0 " + out, "", aquarium.VisitUndeclared, 7},
		{"no hands: it leaves as the filters stop", fmt.Sprintf("0m:0 %dm:0 %dm:-90", last, last+10), "", aquarium.WaterLoss, 8},
		{"fed, and a hose bursts once the filters run again", fed + burst, fmt.Sprintf("%dm:900 %dm1s:0", last+12, last+12), aquarium.FilterStalled, 14},
	} {
		s := script{paths: calm(), every: 10 * time.Second, noise: 1, lasts: 2*day + 14*h}
		s.paths["flow-a"], s.paths["flow-b"], s.paths["level"] = "0m:900 "+off+c.flow, "0m:900 "+off, c.level
		var got []aquarium.Cause
		for _, x := range s.run(t, site) {
			if x.Event != aquarium.Raised {
				continue
			}
			got = append(got, x.Identity.Cause)
			if after := x.At.Sub(zero.Add(time.Duration(last) * m)); len(got) == 1 && (after < 2*m || after > time.Duration(c.by)*m) {
				t.Errorf("%s: raised after %v, want within %d min", c.name, after, c.by)
			}
		}
		if c.flow != "" && (len(got) != 2 || got[1] != aquarium.WaterLoss) {
			t.Errorf("%s: raised %v, want the water told after the filter", c.name, got)
		}
		if len(got) == 0 || got[0] != c.want || c.want == aquarium.VisitUndeclared && len(got) != 1 {
			t.Errorf("%s: raised %v, want %s", c.name, got, c.want)
		}
	}
}

// TestMovesBesideGap: where a gap leaves but one reading, which lies in a splash, nobody knows
// how far the level has moved since.
func TestMovesBesideGap(t *testing.T) {
	for _, c := range []struct {
		name  string
		until int // min that were heard, before a gap of four
		want  bool
	}{{"beside a gap", 36, false}, {"without one", 40, true}} {
		w := New(library())
		level := w.tanks[0].level
		for k := range 51 {
			if k > c.until && k < 40 {
				continue
			}
			mm := 2.0
			if k == 40 {
				mm = 42
			}
			level.screened(zero.Add(time.Duration(k)*m), mm, aquarium.Good)
		}
		w.now = zero.Add(50*m + 10*time.Second)
		level.hold(w.now)
		if d, ok := w.tanks[0].levelMove(w.look(w.now)); ok != c.want || d < -levelMoved {
			t.Errorf("%s: moved by %.0f mm, known %v, want %v", c.name, d, ok, c.want)
		}
	}
}

// TestBurstStopsFilters: a hose bursts and every filter stops with it, at any pace and
// moment between readings. That is water, and no hands.
func TestBurstStopsFilters(t *testing.T) {
	for _, every := range []time.Duration{10 * time.Second, time.Minute} {
		late, of := 0, 40
		for seed := range uint64(of) {
			rng := rand.New(rand.NewPCG(seed, 9))
			site := library()
			site.Tanks[0].Equipment.Filters[1].Stops = nil
			at := time.Duration(600+rng.IntN(480))*m + time.Duration(rng.IntN(60))*time.Second
			out := 120 + 780*rng.Float64() // l/h
			runs := time.Duration(170 * site.Tanks[0].Size.LitresPerMM() / out * float64(time.Hour))
			s := script{paths: calm(), every: every, noise: 1, seed: seed, phase: time.Duration(seed%10) * time.Second, lasts: at + 25*m}
			s.paths["level"] = fmt.Sprintf("0m:0 %v:0 %v:-170", at, at+runs)
			s.paths["flow-a"] = fmt.Sprintf("0m:900 %v:900 %v:0", at, at+time.Second)
			s.paths["flow-b"] = fmt.Sprintf("0m:880 %v:880 %v:0", at, at+time.Second)
			w := New(site)
			w.Recall(&Learned{Tank: "atrium", Through: zero, Since: zero.Add(-20 * day)})
			told := false
			for _, x := range s.play(w, s.samples(t, site), 0, s.lasts) {
				told = told || x.Event == aquarium.Raised && x.Identity.Cause == aquarium.WaterLoss && x.At <= zero.Add(at+20*m)
			}
			if !told {
				late++
			}
		}
		// What is left are small waves that the noise of a fine level shows by chance.
		if 20*late > of {
			t.Errorf("%v: %d of %d not told within twenty minutes", every, late, of)
		}
	}
}
