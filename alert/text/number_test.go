package text

import (
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

func TestValue(t *testing.T) {
	for _, c := range []struct {
		v    float64
		unit aquarium.Unit
		want string
	}{
		{5.978, "pH", "pH 5.98"}, {7, "pH", "pH 7.00"},
		{26.149, "Cel", "26.1 C"}, {-0.04, "Cel", "0.0 C"},
		{13.6, "mm", "+14 mm"}, {-12.2, "mm", "-12 mm"}, {0.3, "mm", "0 mm"},
		{1087, "l/h", "1090 l/h"}, {4, "l/h", "0 l/h"},
		{38.4, "mg/l", "38 mg/l"}, {183.6, "l", "184 l"},
		{6213, "ppm", "6210 ppm"}, {1, "", "1"}, {12.345, "widgets", "12.3 widgets"},
		{math.NaN(), "pH", "pH ?"}, {math.Inf(1), "Cel", "? C"},
	} {
		if got := Value(c.v, c.unit); got != c.want {
			t.Errorf("Value(%v, %q) = %q, want %q", c.v, c.unit, got, c.want)
		}
	}
}

func TestTrend(t *testing.T) {
	for _, c := range []struct {
		v    float64
		unit aquarium.Unit
		want string
	}{
		{-0.4, "pH", "-0.4 per h"}, {-0.45, "pH", "-0.45 per h"}, {1, "pH", "+1 per h"}, {0.004, "pH", ""},
		{0.8, "Cel", "+0.8 C per h"}, {20, "mm", "+20 mm per h"}, {-0.2, "mm", ""}, {math.NaN(), "mm", ""},
	} {
		if got := Trend(c.v, c.unit); got != c.want {
			t.Errorf("Trend(%v, %q) = %q, want %q", c.v, c.unit, got, c.want)
		}
	}
}

func TestSpan(t *testing.T) {
	for _, c := range []struct {
		d    time.Duration
		want string
	}{
		{40 * time.Second, "40 s"}, {25 * time.Minute, "25 min"}, {-3 * time.Hour, "3 h"}, {50 * time.Hour, "2 days"},
	} {
		if got := Span(c.d); got != c.want {
			t.Errorf("Span(%v) = %q, want %q", c.d, got, c.want)
		}
	}
}
