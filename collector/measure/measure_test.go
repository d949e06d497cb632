package measure

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"lentic/collector/aquarium"
)

var key = aquarium.SensorKey{Site: "quillmere-library", Tank: "atrium", Sensor: "x"}

const start = aquarium.Instant(1930000000000)

func reading(v float64, u aquarium.Unit) aquarium.Reading {
	return aquarium.Reading{Sensor: key, At: start, Value: v, Unit: u}
}

func TestSample(t *testing.T) {
	for _, tt := range []struct {
		name    string
		sensor  aquarium.Sensor
		in      aquarium.Reading
		want    float64
		quality aquarium.Quality
		none    bool
	}{
		{name: "pH as it is", sensor: aquarium.Sensor{Quantity: aquarium.PH}, in: reading(6.58, "pH"), want: 6.58},
		{name: "mV without calibration", sensor: aquarium.Sensor{Quantity: aquarium.PH}, in: reading(12, "mV"), none: true},
		{name: "kelvin", sensor: aquarium.Sensor{Quantity: aquarium.Temperature}, in: reading(297.65, "K"), want: 24.5},
		{name: "no unit means the first", sensor: aquarium.Sensor{Quantity: aquarium.Level}, in: reading(3, ""), want: 3},
		{name: "no unit means the configured", sensor: aquarium.Sensor{Quantity: aquarium.Level, Unit: "cm"}, in: reading(3, ""), want: 30},
		{name: "scale and offset act in the unit sent", sensor: aquarium.Sensor{Quantity: aquarium.Level, Scale: 0.1, Offset: -2}, in: reading(523, "cm"), want: 503},
		{name: "offset alone", sensor: aquarium.Sensor{Quantity: aquarium.PH, Offset: 0.05}, in: reading(6.5, "pH"), want: 6.55},
		{name: "absurd is kept and flagged", sensor: aquarium.Sensor{Quantity: aquarium.PH}, in: reading(1e9, "pH"), want: 1e9, quality: aquarium.OutOfRange},
		{name: "a switch is 0 or 1", sensor: aquarium.Sensor{Quantity: aquarium.Switch}, in: reading(2, "/"), want: 2, quality: aquarium.OutOfRange},
		{name: "level as volume", sensor: aquarium.Sensor{Quantity: aquarium.Volume, LitresPerMM: 0.25}, in: reading(40, "cm"), want: 100},
		{name: "level as volume, litres sent", sensor: aquarium.Sensor{Quantity: aquarium.Volume, LitresPerMM: 0.25}, in: reading(77, "l"), want: 77},
		{name: "a unit the quantity no longer has", sensor: aquarium.Sensor{Quantity: aquarium.PH}, in: reading(24, "Cel"), none: true},
		{name: "a number takes any unit", sensor: aquarium.Sensor{Quantity: aquarium.Number, Unit: "lx"}, in: reading(7, "lx"), want: 7},
		{name: "overflow by scale is no value", sensor: aquarium.Sensor{Quantity: aquarium.Number, Scale: 1e300}, in: reading(1e300, ""), none: true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, ok := For(key, tt.sensor).Sample(tt.in)
			if ok == tt.none {
				t.Fatalf("ok = %v, want %v", ok, !tt.none)
			}
			if tt.none {
				return
			}
			want := aquarium.Sample{Sensor: key, At: start, Value: tt.want, Quality: tt.quality}
			if math.Abs(got.Value-want.Value) > 1e-9 {
				t.Errorf("value %v, want %v", got.Value, want.Value)
			}
			if got.Value = want.Value; got != want {
				t.Errorf("got %+v, want %+v", got, want)
			}
		})
	}
}

func TestRetimedIsFlagged(t *testing.T) {
	r := reading(6.5, "pH")
	r.Retimed = true
	if s, ok := For(key, aquarium.Sensor{Quantity: aquarium.PH}).Sample(r); !ok || s.Quality != aquarium.Retimed {
		t.Errorf("got %+v, %v, want quality retimed", s, ok)
	}
}

func TestGatewayMeansWhatItSays(t *testing.T) {
	k := aquarium.SensorKey{Site: "quillmere-library", Tank: aquarium.SiteWide, Sensor: aquarium.GatewaySensor("gw1", aquarium.GatewaySignal)}
	s, ok := ForGateway(k).Sample(aquarium.Reading{Sensor: k, At: start, Value: -71, Unit: "dBm"})
	if want := (aquarium.Sample{Sensor: k, At: start, Value: -71}); !ok || s != want {
		t.Errorf("got %+v, %v, want %+v", s, ok, want)
	}
}

func TestCounter(t *testing.T) {
	pulses := aquarium.Sensor{Quantity: aquarium.Flow, Counter: true, PerUnit: 450}
	type step struct {
		second int
		count  float64
		unit   aquarium.Unit
		want   float64
		none   bool
	}
	for _, tt := range []struct {
		name   string
		sensor aquarium.Sensor
		steps  []step
	}{
		{"450 pulses a litre", pulses, []step{{0, 1000, "", 0, true}, {10, 1450, "", 360, false}, {20, 1450, "", 0, false}}},
		{"a running total in litres", aquarium.Sensor{Quantity: aquarium.Flow, Counter: true},
			[]step{{0, 5, "l", 0, true}, {3600, 15, "l", 10, false}}},
		{"a running total in US gallons", aquarium.Sensor{Quantity: aquarium.Flow, Counter: true},
			[]step{{0, 1, "[gal_us]", 0, true}, {3600, 2, "[gal_us]", 3.785411784, false}}},
		{"reset: unknown once, then from there", pulses, []step{{0, 40000, "", 0, true}, {10, 90, "", 0, true}, {20, 540, "", 360, false}}},
		{"wrap at 16 bits", pulses, []step{{0, 65500, "", 0, true}, {10, 414, "", 360, false}}},
		{"wrap at 32 bits", pulses, []step{{0, 4294967196, "count", 0, true}, {10, 350, "count", 360, false}}},
		{"not newer says nothing", pulses, []step{{10, 0, "", 0, true}, {10, 450, "", 0, true}, {5, 450, "", 0, true}, {20, 450, "", 360, false}}},
		{"scale mends the meter", aquarium.Sensor{Quantity: aquarium.Flow, Counter: true, PerUnit: 450, Scale: 1.1},
			[]step{{0, 0, "", 0, true}, {10, 450, "", 396, false}}},
		{"energy to power", aquarium.Sensor{Quantity: aquarium.Power, Counter: true, PerUnit: 1, Unit: "Wh"},
			[]step{{0, 100, "Wh", 0, true}, {1800, 200, "Wh", 200, false}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			d := For(key, tt.sensor)
			for i, s := range tt.steps {
				r := reading(s.count, s.unit)
				r.At += aquarium.Instant(s.second * 1000)
				got, ok := d.Sample(r)
				if ok == s.none {
					t.Fatalf("step %d: ok = %v, want %v", i, ok, !s.none)
				}
				if ok && math.Abs(got.Value-s.want) > 1e-9 {
					t.Errorf("step %d: %v per hour, want %v", i, got.Value, s.want)
				}
			}
		})
	}
}

// TestUnitsPublished holds every conversion against the published factors in
// testdata/unit_conversions.csv, 1e-6 relative as that file says.
func TestUnitsPublished(t *testing.T) {
	raw, err := os.ReadFile("testdata/unit_conversions.csv")
	if err != nil {
		t.Fatal(err)
	}
	in := csv.NewReader(strings.NewReader(string(raw)))
	in.Comment = '#'
	rows, err := in.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	names := map[string]struct {
		q    aquarium.Quantity
		unit aquarium.Unit
		into float64 // from the table's unit to ours
	}{
		"US_gallon":          {aquarium.Volume, "[gal_us]", 1},
		"imperial_gallon":    {aquarium.Volume, "[gal_br]", 1},
		"inch":               {aquarium.Level, "[in_i]", 1},
		"degF":               {aquarium.Temperature, "[degF]", 1},
		"K":                  {aquarium.Temperature, "K", 1},
		"litre_per_min":      {aquarium.Flow, "l/min", 1},
		"US_gallon_per_hour": {aquarium.Flow, "[gal_us]/h", 1},
		"mS/cm":              {aquarium.Conductivity, "mS/cm", 1e4}, // the table's S/m are 10,000 uS/cm
	}
	seen := 0
	for _, row := range rows[1:] {
		n, ok := names[row[0]]
		if !ok {
			continue
		}
		seen++
		for _, v := range []float64{0, 1, 77, 300.15} {
			s, ok := For(key, aquarium.Sensor{Quantity: n.q}).Sample(reading(v, n.unit))
			want := (v*ratio(t, row[2]) + ratio(t, row[3])) * n.into
			if !ok || math.Abs(s.Value-want) > 1e-6*math.Max(1, math.Abs(want)) {
				t.Errorf("%v %s: %v, want %v", v, n.unit, s.Value, want)
			}
		}
	}
	if seen != len(names) {
		t.Errorf("%d of %d rows found", seen, len(names))
	}
}

// ratio reads 5/9 as well as 0.1.
func ratio(t *testing.T, text string) float64 {
	t.Helper()
	a, b, two := strings.Cut(text, "/")
	v, err := strconv.ParseFloat(a, 64)
	if err != nil {
		t.Fatal(err)
	}
	if two {
		d, err := strconv.ParseFloat(b, 64)
		if err != nil {
			t.Fatal(err)
		}
		v /= d
	}
	return v
}

// TestCountable: what an electrode can give enters sums before anybody knows
// what it means.
func TestCountable(t *testing.T) {
	for _, tt := range []struct {
		name   string
		sensor aquarium.Sensor
		value  float64
		unit   aquarium.Unit
		want   bool
	}{
		{"pH", aquarium.Sensor{Quantity: aquarium.PH}, 6.5, "pH", true},
		{"no pH", aquarium.Sensor{Quantity: aquarium.PH}, 65, "pH", false},
		{"millivolts", aquarium.Sensor{Quantity: aquarium.PH}, 65, "mV", true},
		{"millivolts by its configuration", aquarium.Sensor{Quantity: aquarium.PH, Unit: "mV"}, -170, "", true},
		{"no electrode", aquarium.Sensor{Quantity: aquarium.PH}, 65000, "mV", false},
		{"scaled to millivolts", aquarium.Sensor{Quantity: aquarium.PH, Scale: 0.001}, 65000, "mV", true},
		{"not a number", aquarium.Sensor{Quantity: aquarium.PH}, math.NaN(), "mV", false},
		{"a unit it does not have", aquarium.Sensor{Quantity: aquarium.PH}, 6.5, "Cel", false},
	} {
		if got := Countable(tt.sensor)(tt.value, tt.unit); got != tt.want {
			t.Errorf("%s: got %v, want %v", tt.name, got, tt.want)
		}
	}
}
