package aquarium

import (
	"math"
	"testing"
	"time"
)

// Factors: the US gallon is 231 cubic inches of 25.4 mm, the imperial gallon
// 4.54609 l (Weights and Measures Act 1985), 32 degF is 0 Cel; RFC 8428 and
// UCUM for the symbols.
func TestConvert(t *testing.T) {
	for _, c := range []struct {
		quantity Quantity
		value    float64
		unit     Unit
		want     float64
	}{
		{Temperature, 32, "[degF]", 0},
		{Temperature, 212, "[degF]", 100},
		{Temperature, 273.15, "K", 0},
		{Level, 1, "[in_i]", 25.4},
		{Level, 1.5, "m", 1500},
		{Volume, 1, "[gal_us]", 231 * 2.54 * 2.54 * 2.54 / 1000},
		{Volume, 1, "[gal_br]", 4.54609},
		{Flow, 1, "l/s", 3600},
		{Flow, 20, "l/min", 1200},
		{Conductivity, 1, "S/m", 10000},
		{Conductivity, 0.3, "mS/cm", 300},
		{Pressure, 1013.25, "hPa", 101.325},
		{Switch, 1, "/", 1},
		{Number, 7, "furlong", 7},
	} {
		got, err := c.quantity.Convert(c.value, c.unit)
		if err != nil || math.Abs(got-c.want) > 1e-9*math.Max(1, math.Abs(c.want)) {
			t.Errorf("%s %g %s: got %g, %v; want %g", c.quantity, c.value, c.unit, got, err, c.want)
		}
	}
	if _, err := Temperature.Convert(1, "l"); err == nil {
		t.Error("a temperature in litres was taken")
	}
}

func TestInstantRounds(t *testing.T) {
	for _, c := range []struct{ in, floor, ceil Instant }{
		{0, 0, 0}, {1, 0, 10000}, {9999, 0, 10000}, {10000, 10000, 10000}, {-1, -10000, 0},
	} {
		if f, u := c.in.Floor(Step), c.in.Ceil(Step); f != c.floor || u != c.ceil {
			t.Errorf("%d: got %d and %d, want %d and %d", c.in, f, u, c.floor, c.ceil)
		}
	}
}

func TestWeek(t *testing.T) {
	var weekdays [7]bool
	for d := time.Monday; d <= time.Friday; d++ {
		weekdays[d] = true
	}
	w := Week{{weekdays, Span{22 * 60, 6 * 60}}} // over midnight, Monday to Friday
	for _, c := range []struct {
		at   string
		want bool
	}{
		{"2031-03-03T21:59:00Z", false}, // Monday
		{"2031-03-03T22:00:00Z", true},
		{"2031-03-04T05:59:00Z", true},
		{"2031-03-04T06:00:00Z", false},
		{"2031-03-08T05:00:00Z", true}, // Saturday morning belongs to Friday night
		{"2031-03-08T23:00:00Z", false},
		{"2031-03-03T05:00:00Z", false}, // Monday morning would be Sunday's
	} {
		at, err := time.Parse(time.RFC3339, c.at)
		if err != nil {
			t.Fatal(err)
		}
		if got := w.Contains(at); got != c.want {
			t.Errorf("%s: got %v, want %v", c.at, got, c.want)
		}
	}
}

// TestCauses holds the list against the rules that hang on it.
func TestCauses(t *testing.T) {
	never := map[Cause]bool{CO2Overshoot: true, CO2ValveStuck: true, FloorWet: true, PowerLost: true, RoomCO2High: true}
	seen := map[Cause]bool{}
	for _, c := range Causes() {
		if seen[c] {
			t.Errorf("%s is listed twice", c)
		}
		seen[c] = true
		if c.Priority() == 0 {
			t.Errorf("%s has no priority", c)
		}
		if never[c] && c.OutOfServiceOnVisit() {
			t.Errorf("%s is taken out of service by a visit", c)
		}
	}
	if len(seen) != 42 {
		t.Errorf("%d causes, want the 42 that are promised", len(seen))
	}
}
