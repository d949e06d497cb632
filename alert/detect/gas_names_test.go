package detect

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// gasNames are troubles that move the pH and are none of valve and cylinder, and some
// that are: a wrong name sends somebody to a valve that is sound.
var gasNames = []scenario{
	{
		// Ten litres a minute leave down to the filter's intake; what is left turns with
		// half the filters and is thinned by the top-off: 0.16 pH an hour.
		name: "a hose bursts by night, and the pH of what is left comes down",
		paths: map[string]string{"level": "0m:0 60m:0 76m:-157 240m:-157", "flow-a": "0m:900 60m:900 60m1s:0", "ph": "0m:6.62 60m:6.64 80m:6.6 200m:6.28",
			"topoff": "0m:0 62m:1"}, lasts: 200 * m,
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 64 * m},
			{event: raisedNow, cause: aquarium.WaterLoss, after: 60 * m, by: 66 * m},
		},
	},
	{
		// Ten litres a minute, until the electrode is in the air, where a film dries on it.
		name: "the tank runs empty, and its electrode dries",
		paths: map[string]string{"level": "0m:0 60m:0 110m:-450 300m:-450", "ph": "0m:6.62 60m:6.64 110m:6.5 112m:5.6 180m:5.5 300m:5.3",
			"flow-a": "0m:900 80m:900 80m1s:0", "flow-b": "0m:880 80m:880 80m1s:0"}, lasts: 300 * m,
		want: []want{
			{event: raisedNow, cause: aquarium.WaterLoss, after: 60 * m, by: 66 * m},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 80 * m, by: 84 * m},
		},
	},
	{
		name:  "no filter turns, and what lives in the tank breathes out",
		paths: map[string]string{"flow-a": "0m:900 60m:900 60m1s:0", "flow-b": "0m:880 60m:880 60m1s:0", "ph": "0m:6.55 60m:6.58 200m:6.44"}, lasts: 200 * m,
		want: []want{{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 64 * m}},
	},
	{
		name:  "the same fall while the filters turn is a valve that leaks",
		paths: map[string]string{"ph": "0m:6.55 60m:6.58 200m:6.44"}, lasts: 200 * m,
		want: []want{{event: raisedNow, cause: aquarium.CO2ValveStuck, equipment: "co2", after: 70 * m, by: 150 * m}},
	},
	{
		// A quarter in four minutes is no leap, and no water; then a film dries on it.
		name:  "a probe slips out of the water by night",
		paths: map[string]string{"ph": "0m:7.15 60m:7.15 61m:7.29 62m:7.35 64m:7.39 68m:7.4 75m:7.3 90m:6.92 105m:6.76"}, lasts: 110 * m,
		want: []want{{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 78 * m, by: 90 * m}},
	},
	{
		// By 0.08 in two minutes, which a calibration may do; by gas it would not come next.
		name:  "a probe slips out of the water by night and rises little, and a film dries on it",
		paths: map[string]string{"ph": "0m:7.18 60m:7.18 62m:7.26 75m:7.19 80m:7.12 100m:6.8 110m:6.7"}, lasts: 115 * m,
		want: []want{{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 90 * m, by: 105 * m}},
	},
	{
		name:  "a calibration by night moves the pH as much, and the water goes on as before",
		paths: map[string]string{"ph": "0m:7.18 60m:7.18 60m30s:7.26 240m:7.22"},
	},
	{
		// Where it turns it rests for minutes as in a buffer of 9.
		name:  "a probe in air comes to two over the water, and a film dries on it",
		paths: map[string]string{"ph": "0m:6.6 60m:6.6 60m30s:8.2 75m:8.62 83m:8.62 100m:8.2 120m:8", "valve": "0m:0 59m:1"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 78 * m, by: 92 * m}},
	},
	{
		// What it fell by while the valve was shut is none of the gas that came since.
		name: "a probe falls out of the water as the day's gas begins, and no switch tells", change: dosedBy(68, 1000), gone: []aquarium.SensorID{"valve"},
		paths: map[string]string{"ph": "0m:7.24 60m:7.24 66m:6.8 72m:6.79 120m:7.2"}, lasts: 100 * m,
		want: []want{{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 80 * m, by: 95 * m}},
	},
	{
		// 0.33 in five minutes, of which little in the last two.
		name: "an electrode that follows late comes out of a buffer of 7", change: heldAt(6.75),
		paths: map[string]string{"ph": "0m:6.76 60m:6.76 60m30s:7.03 66m:7.03 67m:6.78 68m:6.72 69m:6.7 70m:6.694 76m:6.69 120m:6.74", "valve": "0m:0 61m:1 67m:0"}, lasts: 2 * h,
	},
	{
		name: "the same in a visit, and more slowly", journal: []aquarium.Entry{visit(30*m, 90*m)}, change: heldAt(6.75),
		paths: map[string]string{"ph": "0m:6.76 60m:6.76 60m30s:7.03 66m:7.03 67m:6.88 69m:6.77 71m:6.69 73m:6.66 80m:6.64 120m:6.7", "valve": "0m:0 61m:1 67m:0"}, lasts: 2 * h,
		want: []want{ // on the page, for the keeper is there
			{event: aquarium.OutOfService, cause: aquarium.PHFalling, equipment: "co2", after: 70 * m, by: 90 * m},
			{event: returnedNow, cause: aquarium.PHFalling, equipment: "co2", after: 80 * m, by: 110 * m},
		},
	},
	{
		// Up by 0.7; the controller brings that down by gas, five times as slowly; so it
		// is believed, and then the gas does not come as it should.
		name: "a probe that jumped is no evidence against the cylinder", change: dosedBy(30, 1000), gone: []aquarium.SensorID{"valve"},
		paths: map[string]string{"ph": "0m:6.6 60m:6.6 60m1s:7.3 150m:6.96 240m:6.93 480m:6.9"}, lasts: 8 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 78 * m, by: 90 * m},
			{event: returnedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 120 * m, by: 150 * m},
			{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 160 * m, by: 220 * m},
		},
	},
	{
		name: "it is calibrated, and then the cylinder is empty", change: dosedBy(30, 1000), gone: []aquarium.SensorID{"valve"},
		journal: []aquarium.Entry{{ID: "c", Kind: aquarium.Calibrated, Site: "quillmere-library", Tank: "atrium", At: zero.Add(135 * m)}},
		paths:   map[string]string{"ph": "0m:6.6 60m:6.6 60m1s:7.3 150m:6.96 240m:6.93 480m:6.9"}, lasts: 5 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 78 * m, by: 90 * m},
			{event: returnedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 120 * m, by: 150 * m},
			{event: raisedNow, cause: aquarium.CO2NotDosing, equipment: "co2", after: 180 * m, by: 240 * m},
		},
	},
	{ // without its gas plants take it there
		name: "the cylinder is empty, and plants bring the pH over its bound", change: dosedBy(30, 1000), gone: []aquarium.SensorID{"valve"},
		paths: map[string]string{"ph": "0m:6.6 60m:6.7 180m:7.6 300m:8.6 360m:8.7"}, lasts: 6 * h,
		want: []want{{event: raisedNow, cause: aquarium.CO2NotDosing, equipment: "co2", after: 30 * m, by: 200 * m}},
	},
	{
		// Held at 6.6, then up by 0.09 an hour: 6.68 is passed at 83m, 53 min after.
		name: "the valve is shut by hand while the pH is held, and no switch tells", change: dosedBy(0, 1000), gone: []aquarium.SensorID{"valve"},
		paths: map[string]string{"ph": "0m:6.62 30m:6.6 230m:6.9"}, lasts: 150 * m,
		want: []want{{event: raisedNow, cause: aquarium.CO2NotDosing, equipment: "co2", after: 70 * m, by: 96 * m}},
	},
	{
		// It comes down by a tenth in half an hour, and what the heater's current adds hides it.
		name:  "gas comes, and a current steps the electrode up meanwhile",
		paths: map[string]string{"ph": "0m:6.55 60m:6.66 75m:6.58 80m:6.56 80m1s:6.71 115m:6.61 116m:6.45 160m:6.6", "valve": "0m:0 60m:1 116m:0"}, lasts: 150 * m,
	},
	{
		name:  "the electrode comes from two buffers and reads 7 in the tank",
		paths: map[string]string{"ph": "0m:6.73 60m:6.73 60m30s:7 64m:7 64m30s:4 68m:4 68m30s:6.98 120m:7.03"}, lasts: 2 * h,
	},
	{
		name:  "gas takes a quarter of an hour to show, and the pH goes over its band until then",
		paths: map[string]string{"ph": "0m:6.56 60m:6.65 76m:6.69 110m:6.55 160m:6.65", "valve": "0m:0 60m:1 105m:0"},
	},
	{
		name:  "gas takes twelve minutes to show where no switch tells of its valve",
		paths: map[string]string{"ph": "0m:6.56 60m:6.65 72m:6.68 110m:6.55 160m:6.65"},
		gone:  []aquarium.SensorID{"valve"},
	},
}

// TestAnswersLate: an electrode that lags shows only once the valve is shut what it was
// opened for, and that has not been asked for in vain.
func TestAnswersLate(t *testing.T) {
	for _, c := range []struct {
		name  string
		after float64 // pH, half an hour after the valve shut
		want  time.Duration
	}{{"it comes down", 6.7, 0}, {"it does not", 6.83, 40 * m}} {
		s := &series{config: aquarium.Sensor{Quantity: aquarium.PH}}
		s.take(zero, 6.8, aquarium.Good)
		d := dosing{asked: zero, last: zero.Add(40 * m), from: 6.8}
		d.end(s)
		for i := range 3 {
			s.take(zero.Add(70*m+time.Duration(i)*m), c.after, aquarium.Good)
		}
		if d.answered(s); d.vain != c.want {
			t.Errorf("%s: asked in vain for %v, want %v", c.name, d.vain, c.want)
		}
	}
}

// TestVain: what was asked for in vain counts for a day, and no longer than it takes
// to tell, and a visit begins anew: somebody may have seen to the cylinder.
func TestVain(t *testing.T) {
	s := &series{config: aquarium.Sensor{Quantity: aquarium.PH}}
	s.take(zero, 7.1, aquarium.Good)
	d := dosing{asked: zero, last: zero.Add(40 * m), from: 7.1}
	for range 3 {
		d.end(s)
		d.asked = zero
	}
	if d.vain != vainFor {
		t.Errorf("asked in vain three times: %v, want %v", d.vain, vainFor)
	}
	d.begin(s, d.last.Add(16*h), d.last.Add(16*h), 0, 0)
	if d.vain != vainFor {
		t.Errorf("the next morning: %v, want %v", d.vain, vainFor)
	}
	d.begin(s, d.last.Add(25*h), d.last.Add(25*h), 0, 0)
	if d.vain != 0 {
		t.Errorf("after a day without: %v, want none", d.vain)
	}
	c := script{paths: calm(), every: time.Minute}
	c.paths["ph"], c.paths["valve"] = "0m:7.2", "0m:0 10m:1 45m:0"
	site := library()
	w := New(site)
	w.Note(visit(70*m, 75*m))
	c.lasts = 80 * m
	xs := c.samples(t, site)
	c.play(w, xs, 0, 65*m)
	if got := w.tanks[0].dosing.vain; got < 30*m {
		t.Errorf("before a visit: %v, want what was asked for", got)
	}
	c.play(w, xs, 65*m, 80*m)
	if got := w.tanks[0].dosing.vain; got != 0 {
		t.Errorf("after a visit: %v, want none", got)
	}
}
