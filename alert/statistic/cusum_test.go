package statistic

import (
	"math"
	"testing"
)

// TestCusumRunLengthPublished: testdata/cusum_arl.csv, 0.5 % of the computed
// column as that file asks, and of the printed one a unit of its last digit, or
// 3e-5 where that is more: so far apart one value of Vance lies, says the file,
// and his like of ten digits 3e-7.
func TestCusumRunLengthPublished(t *testing.T) {
	worst := 0.0
	for _, r := range rows(t, "cusum_arl.csv") {
		length := CusumRunLength
		if r["sided"] == "two" {
			length = CusumRunLengthBoth
		}
		got := length(num(t, r["k"]), num(t, r["h"]), num(t, r["headstart"]), num(t, r["mu_sigma"]))
		want := num(t, r["computed"])
		worst = max(worst, math.Abs(got/want-1))
		near(t, "computed "+r["sided"]+" h="+r["h"]+" shift="+r["mu_sigma"], got, want, 0.005*want)
		if p := r["published"]; p != "" {
			near(t, "printed "+r["sided"]+" h="+r["h"]+" shift="+r["mu_sigma"], got, num(t, p), max(digit(p), 3e-5*want))
		}
	}
	t.Logf("worst deviation from the computed column: %.1e", worst)
}

// TestCusumLimit: the inverse gives the tables' intervals back, and run lengths
// of any size come true; 0.5 %.
func TestCusumLimit(t *testing.T) {
	near(t, "335 at k 0.5", CusumLimit(0.5, 335.367578), 4, 1e-4)
	near(t, "931 at k 0.5", CusumLimit(0.5, 930.887012), 5, 1e-4)
	near(t, "125 at k 0", CusumLimit(0, 124.661564), 10, 1e-3)
	for _, k := range []float64{0.05, 0.1, 0.25, 0.5, 1} {
		for _, want := range []float64{50, 1e3, 1e5, 1e7} {
			h := CusumLimit(k, want)
			near(t, "there and back", CusumRunLength(k, h, 0, 0), want, 0.005*want)
		}
	}
}

// TestCusumNIST: every step of NIST e-Handbook 6.3.2.3, 0.0051 as printed.
func TestCusumNIST(t *testing.T) {
	c := Cusum{K: 0.3175, H: 4.1959}
	for _, r := range rows(t, "nist_cusum_example.csv") {
		c.Take(num(t, r["x"]) - 325)
		near(t, "S_hi "+r["group"], c.Up, num(t, r["S_hi_printed"]), 0.0051)
		near(t, "S_lo "+r["group"], c.Down, num(t, r["S_lo_printed"]), 0.0051)
		near(t, "S_hi exact "+r["group"], c.Up, num(t, r["S_hi"]), 1e-9)
		if out := r["out_of_control"] == "1"; (c.Rising() || c.Falling()) != out {
			t.Errorf("group %s: signal %v, want %v", r["group"], !out, out)
		}
	}
}

// TestCusumMontgomery: every step of Montgomery, Table 9.2, with its counters,
// 0.0051 as printed; the shift is 11.25 as in the book.
func TestCusumMontgomery(t *testing.T) {
	c := Cusum{K: 0.5, H: 5}
	signal := ""
	for _, r := range rows(t, "montgomery_cusum_example.csv") {
		c.Take(num(t, r["x"]) - 10)
		near(t, "C+ "+r["i"], c.Up, num(t, r["C_plus_printed"]), 0.0051)
		near(t, "C- "+r["i"], c.Down, num(t, r["C_minus"]), 0.0051)
		near(t, "N+ "+r["i"], float64(c.UpRun), num(t, r["N_plus"]), 0)
		near(t, "N- "+r["i"], float64(c.DownRun), num(t, r["N_minus"]), 0)
		if c.Rising() && signal == "" {
			signal = r["i"]
			near(t, "shift", c.Shift(), 1.25, 0.0051)
		}
	}
	if signal != "29" {
		t.Errorf("first signal at %s, want 29", signal)
	}
}

// TestCusumHeadstart: Lucas & Crosier (1982), the sums in the head of
// testdata/montgomery_cusum_example.csv, 0.0051.
func TestCusumHeadstart(t *testing.T) {
	xs := []float64{0.8, 1.9, 1.4, 2.0, 1.1, 0.7, 2.6}
	for _, tt := range []struct {
		name   string
		start  float64
		sums   []float64
		signal int
	}{
		{"from 0", 0, []float64{0.3, 1.7, 2.6, 4.1, 4.7, 4.9, 7.0}, 7},
		{"from half of h", 2.5, []float64{2.8, 4.2, 5.1, 6.6, 7.2, 7.4, 9.5}, 3},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c, signal := Cusum{K: 0.5, H: 5}, 0
			c.Restart(tt.start)
			for i, x := range xs {
				c.Take(x)
				near(t, "sum", c.Up, tt.sums[i], 0.0051)
				if c.Rising() && signal == 0 {
					signal = i + 1
				}
			}
			if signal != tt.signal {
				t.Errorf("signals at %d, want %d", signal, tt.signal)
			}
		})
	}
}

func TestCusumShiftDown(t *testing.T) {
	c := Cusum{K: 0.5, H: 5}
	if got := c.Shift(); got != 0 {
		t.Errorf("shift of nothing: %v", got)
	}
	for range 10 {
		c.Take(-2)
	}
	near(t, "shift", c.Shift(), -2, 1e-12)
}
