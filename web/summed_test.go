package web

import (
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestSummedIsWhatTheReadingsSay: a long stretch drawn from sums has the
// extent and mean of the samples themselves, in the unit they are shown in.
func TestSummedIsWhatTheReadingsSay(t *testing.T) {
	b := newBench(t, nil)
	from := aquarium.At(noon.Add(-120 * 24 * time.Hour)).Floor(24 * time.Hour)
	ph, warm := key("quillmere-library", "atrium", "ph"), key("quillmere-library", "atrium", "water")
	var batch aquarium.Batch
	for i := range 120 * 24 * 4 { // a reading each quarter of an hour
		at := from.Add(time.Duration(i) * 15 * time.Minute)
		day := math.Sin(float64(i) / 96 * 2 * math.Pi)
		batch.Readings = append(batch.Readings,
			aquarium.Reading{Sensor: ph, At: at, Value: math.Round((6.8+0.3*day)*100) / 100, Unit: "pH"},
			aquarium.Reading{Sensor: warm, At: at, Value: math.Round((297.5+day)*10) / 10, Unit: "K"})
	}
	if _, err := b.store.Append(batch, nil); err != nil {
		t.Fatal(err)
	}
	site := &b.scene.Load().sites[0]
	tank := &site.Tanks[0]
	q := Query{From: from, To: from.Add(120 * 24 * time.Hour), Points: 200}
	for _, k := range []aquarium.SensorKey{ph, warm} {
		sensor := *tank.Sensor(k.Sensor)
		got, enough, err := b.summed(k, sensor, q)
		if err != nil || !enough {
			t.Fatalf("%s: enough %v, %v", k, enough, err)
		}
		plain := builder{q: q, width: got.Width}
		if err := b.samples(k, sensor, q.From, q.To, func(v aquarium.Sample) bool { plain.add(v); return true }); err != nil {
			t.Fatal(err)
		}
		near(t, string(k.Sensor), got, plain.series(), 1e-9)
		if len(got.T) > q.Points || len(got.T) < q.Points*3/5 {
			t.Errorf("%s: %d points for %d", k, len(got.T), q.Points)
		}
	}
	e, ok := b.estimator(site, tank)
	if !ok {
		t.Fatal("CO2 cannot be told")
	}
	got, enough, err := b.summedEstimate(e, q)
	if err != nil || !enough {
		t.Fatalf("estimate: enough %v, %v", enough, err)
	}
	e, _ = b.estimator(site, tank)
	plain := builder{q: q, width: got.Width}
	if err := b.estimates(e, q.From, q.To, func(v aquarium.Sample) bool { plain.add(v); return true }); err != nil {
		t.Fatal(err)
	}
	near(t, "co2", got, plain.series(), 0.3) // of some 5 to 30 mg/l, with a pH that moves by 0.08 an hour
}

// near compares two series.
func near(t *testing.T, name string, got, want Series, by float64) {
	t.Helper()
	if len(got.T) != len(want.T) {
		t.Fatalf("%s: got %d buckets, want %d", name, len(got.T), len(want.T))
	}
	for i := range got.T {
		for _, c := range [][2]float64{{got.Min[i], want.Min[i]}, {got.Mean[i], want.Mean[i]}, {got.Max[i], want.Max[i]}} {
			if got.T[i] != want.T[i] || math.Abs(c[0]-c[1]) > by {
				t.Fatalf("%s at %s: got %v, want %v at %s", name, got.T[i], c[0], c[1], want.T[i])
			}
		}
	}
}

// TestSummedKeepsOut: what is held, counted, short or sparse is drawn from the
// readings.
func TestSummedKeepsOut(t *testing.T) {
	b := newBench(t, nil)
	ph := key("quillmere-library", "atrium", "ph")
	sensor := aquarium.Sensor{ID: "ph", Quantity: aquarium.PH}
	year := Query{From: aquarium.At(noon).Add(-365 * 24 * time.Hour), To: aquarium.At(noon), Points: 800}
	for _, c := range []struct {
		name   string
		sensor aquarium.Sensor
		q      Query
	}{
		{"on change", aquarium.Sensor{ID: "ph", Quantity: aquarium.Switch, OnChange: true}, Query{From: year.From, To: year.To, Points: 10, Held: true, Hold: time.Hour}},
		{"held for long", sensor, Query{From: year.From, To: year.To, Points: 10, Held: true, Hold: 72 * time.Hour}},
		{"counter", aquarium.Sensor{ID: "ph", Quantity: aquarium.Flow, Counter: true}, year},
		{"a day", sensor, Query{From: year.To.Add(-24 * time.Hour), To: year.To, Points: 800}},
		{"sixty readings", sensor, year},
	} {
		if _, enough, err := b.summed(ph, c.sensor, c.q); enough || err != nil {
			t.Errorf("%s: enough %v, %v", c.name, enough, err)
		}
	}
}
