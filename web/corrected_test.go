package web

import (
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// calibrated is a calibration of the atrium's sensor, so long before noon.
func calibrated(before time.Duration, c aquarium.Calibration) aquarium.Entry {
	c.Temperature = 25
	return aquarium.Entry{Kind: aquarium.Calibrated, Site: "quillmere-library", Tank: "atrium", At: aquarium.At(noon.Add(-before)), Calibration: &c}
}

const ofAtrium = "/api/v1/readings?site=quillmere-library&tank=atrium&from=2031-03-02T11:00:00Z&to=2031-03-02T12:00:00Z&sensor="

// 0.2 pH of drift are spread over the hour between two calibrations; the
// estimated CO2 follows, and what is not asked to be corrected stays as it was.
func TestCorrectedReadings(t *testing.T) {
	b := newBench(t, nil)
	b.desk.enter(calibrated(time.Hour, aquarium.Calibration{Sensor: "ph", Unit: "pH", State: aquarium.AsLeft, Buffers: []aquarium.Buffer{{Label: 7, Reading: 7}}}))
	b.desk.enter(calibrated(0, aquarium.Calibration{Sensor: "ph", Unit: "pH", State: aquarium.AsFound, Buffers: []aquarium.Buffer{{Label: 7, Reading: 7.2}}}))
	raw, corrected := get[readingsAnswer](t, b, ofAtrium+"ph"), get[readingsAnswer](t, b, ofAtrium+"ph&corrected=true")
	if len(corrected.T) != 60 || !corrected.Corrected || raw.Corrected {
		t.Fatalf("got %d, corrected %v and %v", len(corrected.T), corrected.Corrected, raw.Corrected)
	}
	for i := range raw.T {
		if want := raw.Mean[i] - 0.2*float64(i)/60; math.Abs(corrected.Mean[i]-want) > 1e-6 {
			t.Errorf("minute %d: %v, want %v", i, corrected.Mean[i], want)
		}
	}
	plain, more := get[readingsAnswer](t, b, ofAtrium+"co2-estimate"), get[readingsAnswer](t, b, ofAtrium+"co2-estimate&corrected=true")
	if plain.Mean[0] != more.Mean[0] || math.Abs(more.Mean[59]/plain.Mean[59]-math.Pow(10, 0.2*59/60)) > 0.01 {
		t.Errorf("estimate: %v to %v, corrected %v to %v", plain.Mean[0], plain.Mean[59], more.Mean[0], more.Mean[59])
	}
	for query, want := range map[string]int{"water&corrected=true": 400, "ph&corrected=yes": 400, "salt&corrected=true": 404, "water&corrected=false": 200} {
		if w := b.ask("GET", ofAtrium+query, ""); w.Code != want {
			t.Errorf("%s: got %d, want %d", query, w.Code, want)
		}
	}
}

// A probe that sends millivolts shows nothing before it is calibrated; then it
// is drawn by the calibration in force, over months too.
func TestMillivoltsAreDrawnByTheirCalibration(t *testing.T) {
	b := newBench(t, func(o *Options) {
		tank := &o.Sites[0].Tanks[0]
		tank.Sensors = append(tank.Sensors, aquarium.Sensor{ID: "probe", Quantity: aquarium.PH, Unit: "mV"})
	})
	var rs []aquarium.Reading
	for day := range 60 {
		rs = append(rs, aquarium.Reading{Sensor: key("quillmere-library", "atrium", "probe"), At: aquarium.At(noon.AddDate(0, 0, day-60)), Value: 59.159, Unit: "mV"})
	}
	if _, err := b.store.Append(aquarium.Batch{Readings: rs}, nil); err != nil {
		t.Fatal(err)
	}
	at := func(from string) string {
		return "/api/v1/readings?site=quillmere-library&tank=atrium&from=" + from + "&to=2031-03-02T12:00:00Z&points=20&sensor=probe"
	}
	if none := get[readingsAnswer](t, b, at("2031-01-01T00:00:00Z")); len(none.T) != 0 {
		t.Errorf("not calibrated: got %d values, want none", len(none.T))
	}
	ideal := []aquarium.Buffer{{Label: 7, Reading: 0}, {Label: 4.01, Reading: 177.18}}
	b.desk.enter(calibrated(59*24*time.Hour, aquarium.Calibration{Sensor: "probe", Unit: "mV", Buffers: ideal}))
	b.desk.enter(calibrated(29*24*time.Hour, aquarium.Calibration{Sensor: "probe", Unit: "mV", Buffers: []aquarium.Buffer{{Label: 7, Reading: 5.9159}, {Label: 4.01, Reading: 183.096}}}))
	got := get[readingsAnswer](t, b, at("2031-01-01T00:00:00Z"))
	if n := len(got.T); n < 15 || got.Unit != "pH" || math.Abs(got.Mean[0]-6) > 0.002 || math.Abs(got.Mean[n-1]-6.1) > 0.002 {
		t.Errorf("got %d values from %v, want pH 6 at first and 6.1 at last", n, got.Mean)
	}
	if v, ok := b.newest(key("quillmere-library", "atrium", "probe"), aquarium.Sensor{ID: "probe", Quantity: aquarium.PH, Unit: "mV"}); !ok || math.Abs(v.Value-6.1) > 0.002 {
		t.Errorf("newest: got %v, %v, want 6.1", v.Value, ok)
	}
}

// Months of millivolts drawn from sums have the extent and mean of the samples
// themselves, the stretches in which a calibration changed included; what came
// before the first is left out.
func TestSumsOfMillivolts(t *testing.T) {
	sensor := aquarium.Sensor{ID: "probe", Quantity: aquarium.PH, Unit: "mV"}
	b := newBench(t, func(o *Options) {
		tank := &o.Sites[0].Tanks[0]
		tank.Sensors = append(tank.Sensors, sensor)
	})
	k := key("quillmere-library", "atrium", "probe")
	from := aquarium.At(noon.AddDate(0, 0, -120)).Floor(24 * time.Hour)
	var rs []aquarium.Reading
	for i := range 120 * 24 * 4 {
		rs = append(rs, aquarium.Reading{Sensor: k, At: from.Add(time.Duration(i) * 15 * time.Minute), Value: math.Round(40 + 20*math.Sin(float64(i)/96*2*math.Pi)), Unit: "mV"})
	}
	if _, err := b.store.Append(aquarium.Batch{Readings: rs}, nil); err != nil {
		t.Fatal(err)
	}
	for i, before := range []time.Duration{100*24*time.Hour + 7*time.Hour, 33*24*time.Hour + 5*time.Hour} {
		shift := float64(10 * i)
		b.desk.enter(calibrated(before, aquarium.Calibration{Sensor: "probe", Unit: "mV", Buffers: []aquarium.Buffer{{Label: 7, Reading: shift}, {Label: 4.01, Reading: 170 + shift}}}))
	}
	q := Query{From: from, To: from.Add(120 * 24 * time.Hour), Points: 200}
	got, enough, err := b.summed(k, sensor, q)
	if err != nil || !enough {
		t.Fatalf("enough %v, %v", enough, err)
	}
	plain := builder{q: q, width: got.Width}
	if err := b.samples(k, sensor, q.From, q.To, func(v aquarium.Sample) bool { plain.add(v); return true }); err != nil {
		t.Fatal(err)
	}
	near(t, "probe", got, plain.series(), 1e-9)
	if first := aquarium.At(noon.Add(-100*24*time.Hour - 7*time.Hour)); len(got.T) == 0 || got.T[0] < first.Floor(got.Width) {
		t.Errorf("drawn from %v, want nothing before the first calibration at %s", got.T[:1], first)
	}
}
