package statistic

import (
	"math"
	"testing"
)

// TestEwmaRunLengthPublished: testdata/ewma_arl.csv, 0.5 % of the computed
// column as that file asks, and of the printed one a unit of its last digit.
func TestEwmaRunLengthPublished(t *testing.T) {
	worst := 0.0
	for _, r := range rows(t, "ewma_arl.csv") {
		got := EwmaRunLength(num(t, r["lambda"]), num(t, r["L"]), num(t, r["mu_sigma"]))
		want := num(t, r["computed"])
		worst = max(worst, math.Abs(got/want-1))
		what := " lambda=" + r["lambda"] + " L=" + r["L"] + " shift=" + r["mu_sigma"]
		near(t, "computed"+what, got, want, 0.005*want)
		if p := r["published"]; p != "" {
			near(t, "printed"+what, got, num(t, p), digit(p))
		}
	}
	t.Logf("worst deviation from the computed column: %.1e", worst)
}

// TestEwmaLimit: the inverse gives Lucas & Saccucci's limits back, which are
// printed to three places, and run lengths of any size come true; 0.5 %.
func TestEwmaLimit(t *testing.T) {
	for _, tt := range []struct{ lambda, l float64 }{{0.5, 3.071}, {0.25, 2.998}, {0.1, 2.814}, {0.05, 2.615}, {0.03, 2.437}} {
		near(t, "limit for 500", EwmaLimit(tt.lambda, 500), tt.l, 0.0006)
	}
	for _, lambda := range []float64{0.02, 0.1, 0.4} {
		for _, want := range []float64{100, 1e4, 1e6} {
			near(t, "there and back", EwmaRunLength(lambda, EwmaLimit(lambda, want), 0), want, 0.005*want)
		}
	}
}

// TestEwmaNIST: every step of NIST e-Handbook 6.3.2.4, 0.0051 on the series and
// 0.0002 on the limits, as that file asks.
func TestEwmaNIST(t *testing.T) {
	e := Ewma{Lambda: 0.3, H: 3 * 2.0539 * EwmaSpread(0.3)}
	near(t, "upper limit", 50+e.H, 52.5884, 0.0002)
	near(t, "lower limit", 50-e.H, 47.4115, 0.0002)
	for _, r := range rows(t, "nist_ewma_example.csv") {
		e.Take(num(t, r["x"]) - 50)
		near(t, "EWMA "+r["t"], 50+e.Value, num(t, r["ewma_printed"]), 0.0051)
		near(t, "exact "+r["t"], 50+e.Value, num(t, r["ewma"]), 5.1e-7)
		if e.Rising() || e.Falling() {
			t.Errorf("%s: out of control, and all points are inside", r["t"])
		}
	}
	e.Value = math.Nextafter(-e.H, -100)
	if !e.Falling() || e.Rising() {
		t.Error("below the lower limit and not falling")
	}
}
