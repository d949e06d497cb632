package measure

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/water"
)

const hour = time.Hour

// calibrated is a journal entry of key at start plus that many hours.
func calibrated(hours float64, c aquarium.Calibration) aquarium.Entry {
	c.Sensor = key.Sensor
	if c.Temperature == 0 {
		c.Temperature = 25
	}
	return aquarium.Entry{ID: strconv.FormatFloat(hours, 'g', -1, 64), Kind: aquarium.Calibrated, Site: key.Site, Tank: key.Tank,
		At: start.Add(time.Duration(hours * float64(hour))), Calibration: &c}
}

func inPH(state aquarium.AsState, bs ...aquarium.Buffer) aquarium.Calibration {
	return aquarium.Calibration{Unit: "pH", State: state, Buffers: bs}
}

func inMV(state aquarium.AsState, bs ...aquarium.Buffer) aquarium.Calibration {
	return aquarium.Calibration{Unit: "mV", State: state, Buffers: bs}
}

// nernst at 25 Cel (testdata of collector/water: nernst_slope.csv).
const nernst = 59.15935

// TestMillivolts: what a reading in mV means changes with its calibrations, and
// never what was received.
func TestMillivolts(t *testing.T) {
	ideal := inMV("", aquarium.Buffer{Label: 7, Reading: 0}, aquarium.Buffer{Label: 4.005, Reading: 2.995 * nernst})
	weak := inMV("", aquarium.Buffer{Label: 7, Reading: 10}, aquarium.Buffer{Label: 4.005, Reading: 10 + 0.9*2.995*nernst})
	found := weak
	found.State = aquarium.AsFound
	for _, tt := range []struct {
		name    string
		journal []aquarium.Entry
		hours   float64
		mv      float64
		want    float64
		none    bool
	}{
		{name: "no calibration: no ideal electrode is assumed", mv: 0, none: true},
		{name: "before the first", journal: []aquarium.Entry{calibrated(5, ideal)}, hours: 4, none: true},
		{name: "at its very time", journal: []aquarium.Entry{calibrated(5, ideal)}, hours: 5, mv: nernst, want: 6},
		{name: "after it", journal: []aquarium.Entry{calibrated(5, ideal)}, hours: 50, mv: -nernst, want: 8},
		{name: "between two the older", journal: []aquarium.Entry{calibrated(9, weak), calibrated(5, ideal)}, hours: 8, mv: nernst, want: 6},
		{name: "then the newer", journal: []aquarium.Entry{calibrated(9, weak), calibrated(5, ideal)}, hours: 9, mv: 10 + 0.9*nernst, want: 6},
		{name: "as found says nothing of what follows", journal: []aquarium.Entry{calibrated(5, ideal), calibrated(9, found)}, hours: 10, mv: nernst, want: 6},
		{name: "as found alone puts none in force", journal: []aquarium.Entry{calibrated(9, found)}, hours: 10, none: true},
		{name: "readings in pH say nothing of mV", journal: []aquarium.Entry{calibrated(5, inPH("", aquarium.Buffer{Label: 7, Reading: 7.1}))}, hours: 6, none: true},
		{name: "one buffer moves the former curve", journal: []aquarium.Entry{calibrated(5, weak), calibrated(6, inMV("", aquarium.Buffer{Label: 7, Reading: 4}))},
			hours: 7, mv: 4 + 0.9*nernst, want: 6},
	} {
		t.Run(tt.name, func(t *testing.T) {
			x := ElectrodeOf(key, tt.journal)
			r := reading(tt.mv, "mV")
			r.At = start.Add(time.Duration(tt.hours * float64(hour)))
			got, ok := For(key, aquarium.Sensor{Quantity: aquarium.PH}).Calibrated(func() Electrode { return x }).Sample(r)
			if ok == tt.none {
				t.Fatalf("ok = %v, want %v", ok, !tt.none)
			}
			if ok && math.Abs(got.Value-tt.want) > 1e-6 {
				t.Errorf("pH %v, want %v", got.Value, tt.want)
			}
		})
	}
}

// TestBackDated: a calibration entered later for an earlier time counts from
// that time on, with the deriver that is at work already.
func TestBackDated(t *testing.T) {
	journal := []aquarium.Entry{calibrated(0, inMV("", aquarium.Buffer{Label: 7, Reading: 0}, aquarium.Buffer{Label: 4, Reading: 3 * nernst}))}
	d := For(key, aquarium.Sensor{Quantity: aquarium.PH}).Calibrated(func() Electrode { return ElectrodeOf(key, journal) })
	r := reading(nernst, "mV")
	r.At = start.Add(10 * hour)
	before, _ := d.Sample(r)
	journal = append(journal, calibrated(9, inMV("", aquarium.Buffer{Label: 7, Reading: 6}, aquarium.Buffer{Label: 4, Reading: 6 + 3*nernst})))
	after, ok := d.Sample(r)
	r.At = start.Add(8 * hour)
	earlier, _ := d.Sample(r)
	if !ok || math.Abs(before.Value-6) > 1e-6 || math.Abs(after.Value-before.Value-6/nernst) > 1e-6 || earlier.Value != before.Value {
		t.Errorf("before %v, after %v, at an earlier time %v; want 6, %v, 6", before.Value, after.Value, earlier.Value, 6+6/nernst)
	}
	if r.Value != nernst || r.Unit != "mV" {
		t.Errorf("the reading itself became %v", r)
	}
}

// TestCorrected: drift is spread over the days from the last good calibration
// to what was found.
func TestCorrected(t *testing.T) {
	good := inPH(aquarium.AsLeft, aquarium.Buffer{Label: 7, Reading: 7})
	high := inPH(aquarium.AsFound, aquarium.Buffer{Label: 7, Reading: 7.2})
	stays := inPH("", aquarium.Buffer{Label: 7, Reading: 7.2})
	fouled := inPH(aquarium.AsFound, aquarium.Buffer{Label: 7, Reading: 7.15})
	fouled.Cleaned = &aquarium.Cleaning{Before: 7.42, After: 7.34, MeterBefore: 7.38, MeterAfter: 7.36}
	for _, tt := range []struct {
		name    string
		journal []aquarium.Entry
		hours   float64
		in      float64
		want    float64
	}{
		{"never calibrated", nil, 1, 6.6, 6.6},
		{"before the first", []aquarium.Entry{calibrated(10, high)}, 5, 6.6, 6.6},
		{"a quarter of the way", []aquarium.Entry{calibrated(0, good), calibrated(100, high)}, 25, 6.6, 6.55},
		{"at the end", []aquarium.Entry{calibrated(0, good), calibrated(100, high)}, 99.9999, 6.6, 6.4},
		{"adjusted", []aquarium.Entry{calibrated(0, good), calibrated(100, high), calibrated(100.5, good)}, 101, 6.6, 6.6},
		{"between found and left", []aquarium.Entry{calibrated(0, good), calibrated(100, high), calibrated(100.5, good)}, 100.2, 6.6, 6.4},
		{"found and left at the same time", []aquarium.Entry{calibrated(0, good), calibrated(100, high), calibrated(100, good)}, 50, 6.6, 6.5},
		{"left as it read", []aquarium.Entry{calibrated(0, good), calibrated(100, stays)}, 150, 6.6, 6.4},
		{"left says nothing of the time before", []aquarium.Entry{calibrated(0, stays), calibrated(100, good)}, 50, 6.6, 6.4},
		// drift_correction.json of collector/water: fouling -0.06, drift -0.15,
		// half of -0.21 at half the time.
		{"fouling and drift", []aquarium.Entry{calibrated(0, good), calibrated(100, fouled)}, 50, 7.5, 7.395},
		{"readings in mV are another matter", []aquarium.Entry{calibrated(0, inMV("", aquarium.Buffer{Label: 7, Reading: 30}))}, 5, 6.6, 6.6},
		{"no pH at all stays as it is", []aquarium.Entry{calibrated(0, good)}, 5, 1e9, 1e9},
	} {
		t.Run(tt.name, func(t *testing.T) {
			x := ElectrodeOf(key, tt.journal)
			r := reading(tt.in, "pH")
			r.At = start.Add(time.Duration(tt.hours * float64(hour)))
			d := For(key, aquarium.Sensor{Quantity: aquarium.PH}).Calibrated(func() Electrode { return x })
			if raw, ok := d.Sample(r); !ok || raw.Value != tt.in {
				t.Errorf("not corrected: got %v, %v, want it as received", raw.Value, ok)
			}
			got, ok := d.Corrected().Sample(r)
			if !ok || math.Abs(got.Value-tt.want) > 1e-6 {
				t.Errorf("corrected: got %v, %v, want %v", got.Value, ok, tt.want)
			}
		})
	}
}

// TestCorrectedMillivolts: the curve in force until then is the one the drift
// is spread from.
func TestCorrectedMillivolts(t *testing.T) {
	x := ElectrodeOf(key, []aquarium.Entry{
		calibrated(0, inMV("", aquarium.Buffer{Label: 7, Reading: 0}, aquarium.Buffer{Label: 4, Reading: 3 * nernst})),
		calibrated(100, inMV("", aquarium.Buffer{Label: 7, Reading: 12}, aquarium.Buffer{Label: 4, Reading: 12 + 3*nernst})),
	})
	r := reading(6+nernst, "mV")
	r.At = start.Add(50 * hour)
	d := For(key, aquarium.Sensor{Quantity: aquarium.PH, Unit: "mV"}).Calibrated(func() Electrode { return x })
	raw, ok1 := d.Sample(r)
	got, ok2 := d.Corrected().Sample(r)
	if !ok1 || !ok2 || math.Abs(raw.Value-(6-6/nernst)) > 1e-6 || math.Abs(got.Value-6) > 1e-6 {
		t.Errorf("raw %v, corrected %v, want %v and 6", raw.Value, got.Value, 6-6/nernst)
	}
}

// TestOtherSensorsCalibrations: an electrode is known by site, tank and sensor.
func TestOtherSensorsCalibrations(t *testing.T) {
	c := inPH("", aquarium.Buffer{Label: 7, Reading: 7.2})
	mine := calibrated(0, c)
	for name, change := range map[string]func(e *aquarium.Entry){
		"site":   func(e *aquarium.Entry) { e.Site = "hotel-sarnbrook" },
		"tank":   func(e *aquarium.Entry) { e.Tank = "lobby" },
		"sensor": func(e *aquarium.Entry) { c := *e.Calibration; c.Sensor = "y"; e.Calibration = &c },
		"kind":   func(e *aquarium.Entry) { e.Kind = aquarium.HandTest },
		"broken": func(e *aquarium.Entry) { c := *e.Calibration; c.Buffers = nil; e.Calibration = &c },
	} {
		e := mine
		change(&e)
		if ElectrodeOf(key, []aquarium.Entry{e}).Calibrated() {
			t.Errorf("%s of another: taken", name)
		}
	}
	if !ElectrodeOf(key, []aquarium.Entry{mine}).Calibrated() {
		t.Error("its own: not taken")
	}
	if _, err := Curve(water.Calibration{}, aquarium.Calibration{Unit: "pH", Temperature: 60, Buffers: []aquarium.Buffer{{Label: 7, Reading: 7}}}); !errors.Is(err, water.ErrRange) {
		t.Errorf("buffers of 60 Cel: got %v, want ErrRange", err)
	}
}

// TestSonde: the published pH_Corr of a sonde's week (Saint Louis University
// geochemistry data, with driftR) by the journal and the deriver, as a keeper
// would have it: right when it was put out, 6.99 in 7 and 11.8 in 10 when it
// came back. 1e-9.
func TestSonde(t *testing.T) {
	sets := os.Getenv("LENTIC_DATASETS")
	if sets == "" {
		t.Skip("LENTIC_DATASETS is not set: the published pH_Corr of the sonde is not compared")
	}
	f, err := os.Open(filepath.Join(sets, "sonde-drift", "corrected.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at := func(i int) aquarium.Instant {
		v, err := time.Parse("1/2/2006 15:04:05", rows[i][11])
		if err != nil {
			t.Fatal(err)
		}
		return aquarium.At(v)
	}
	out := calibrated(0, inPH(aquarium.AsLeft, aquarium.Buffer{Label: 7, Reading: 7}))
	back := calibrated(1, inPH(aquarium.AsFound, aquarium.Buffer{Label: 7, Reading: 6.99}, aquarium.Buffer{Label: 10, Reading: 11.8}))
	out.At, back.At = at(1), at(len(rows)-1)
	x := ElectrodeOf(key, []aquarium.Entry{out, back})
	d := For(key, aquarium.Sensor{Quantity: aquarium.PH}).Calibrated(func() Electrode { return x }).Corrected()
	worst := 0.0
	for i, row := range rows[1:] {
		ph, err1 := strconv.ParseFloat(row[4], 64)
		want, err2 := strconv.ParseFloat(row[13], 64)
		if err1 != nil || err2 != nil || rows[0][4] != "pH" || rows[0][13] != "pH_Corr" {
			t.Fatal(err1, err2, rows[0])
		}
		r := reading(ph, "pH")
		r.At = at(i + 1)
		got, ok := d.Sample(r)
		if !ok {
			t.Fatalf("row %d: nothing derived", i)
		}
		worst = max(worst, math.Abs(got.Value-want))
	}
	if worst > 1e-9 {
		t.Errorf("off by %g, want at most 1e-9", worst)
	}
	t.Logf("%d rows off by at most %.1e", len(rows)-1, worst)
}

func BenchmarkMillivolts(b *testing.B) {
	x := ElectrodeOf(key, []aquarium.Entry{
		calibrated(0, inMV("", aquarium.Buffer{Label: 7, Reading: 0}, aquarium.Buffer{Label: 4, Reading: 3 * nernst})),
		calibrated(100, inMV("", aquarium.Buffer{Label: 7, Reading: 12}, aquarium.Buffer{Label: 4, Reading: 12 + 3*nernst})),
	})
	r := reading(6+nernst, "mV")
	r.At = start.Add(50 * hour)
	for _, corrected := range []bool{false, true} {
		b.Run(map[bool]string{false: "in force", true: "corrected"}[corrected], func(b *testing.B) {
			d := For(key, aquarium.Sensor{Quantity: aquarium.PH, Unit: "mV"}).Calibrated(func() Electrode { return x })
			if corrected {
				d.Corrected()
			}
			b.ReportAllocs()
			for b.Loop() {
				if _, ok := d.Sample(r); !ok {
					b.Fatal("nothing derived")
				}
			}
		})
	}
}
