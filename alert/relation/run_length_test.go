package relation_test

import (
	"math"
	"testing"

	"lentic/alert/relation"
	"lentic/alert/statistic"
)

// TestRunLengthOfOne: of one sensor the chart is the two-sided EWMA, whose run
// lengths package statistic holds against Lucas & Saccucci (1990); within 2 %.
func TestRunLengthOfOne(t *testing.T) {
	for _, gain := range []float64{0.05, 0.1, 0.25, 0.5} {
		for _, l := range []float64{2.4, 2.8, 3.1} {
			want := statistic.EwmaRunLength(gain, l, 0)
			if got := relation.RunLength(1, gain, l*l); math.Abs(got/want-1) > 0.02 {
				t.Errorf("gain %v, limit %v: %.1f rows, want %.1f", gain, l, got, want)
			}
		}
	}
}

// TestLimitsPublished: limits of T² for 200 rows to a false alarm. Those of gain
// 0.1 as Lowry, Woodall, Champ & Rigdon (1992) give them, found there by
// simulation and here written down from memory; within 1 %. With gain 1 nothing is
// averaged, and the limit is a quantile of chi-square: 0.995 of 2 degrees is
// -2 ln 0.005, and of 8 it is 21.955 (common tables, from memory); within 0.1 %.
func TestLimitsPublished(t *testing.T) {
	for _, c := range []struct {
		sensors        int
		gain           float64
		want, relative float64
	}{
		{2, 0.1, 8.66, 0.01}, {3, 0.1, 10.79, 0.01}, {4, 0.1, 12.73, 0.01},
		{2, 1, -2 * math.Log(0.005), 0.001}, {8, 1, 21.955, 0.001},
	} {
		if got := relation.Limit(c.sensors, c.gain, 200); math.Abs(got/c.want-1) > c.relative {
			t.Errorf("%d sensors, gain %v: %.3f, want %.3f", c.sensors, c.gain, got, c.want)
		}
	}
}
