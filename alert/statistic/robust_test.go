package statistic

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestNile: testdata/nile.csv: the shift after 1898 (Cobb 1978), and the robust
// statistics in its head; to the digits given there.
func TestNile(t *testing.T) {
	_, flow := nile(t)
	n, rest := MeanShift(flow)
	near(t, "values before the shift", float64(n), 28, 0)
	near(t, "residual squares", rest, 1597457.19, 0.006)
	near(t, "mean before", mean(flow[:n]), 1097.75, 1e-9)
	near(t, "mean after", mean(flow[n:]), 849.9722, 0.00006)
	n, u, p := Pettitt(flow)
	near(t, "Pettitt's place", float64(n), 28, 0)
	near(t, "Pettitt's U", u, 1617, 0)
	near(t, "Pettitt's p", p, 3.59e-7, 0.006e-7)
	near(t, "mean", mean(flow), 919.35, 1e-9)
	var m Moments
	for _, v := range flow {
		m.Take(v)
	}
	near(t, "sd", m.SD(), 169.2275, 0.00006)
	median, mad := MAD(flow)
	near(t, "median", median, 893.5, 0)
	near(t, "MAD", mad, 121, 0)
	near(t, "as a standard deviation", mad*Normal, 179.39, 0.006)
}

func TestQuantile(t *testing.T) {
	for _, tt := range []struct {
		name string
		xs   []float64
		p    float64
		want float64
	}{
		{"none", nil, 0.5, math.NaN()},
		{"one", []float64{7}, 0.9, 7},
		{"lowest", []float64{3, 1, 2}, 0, 1},
		{"highest", []float64{3, 1, 2}, 1, 3},
		{"between", []float64{4, 1, 2, 3}, 0.25, 1.75},
		{"tenth of eleven", []float64{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, 0.1, 1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := Quantile(tt.xs, tt.p)
			if got != tt.want && !(math.IsNaN(got) && math.IsNaN(tt.want)) {
				t.Errorf("got %v, want %v", got, tt.want)
			}
		})
	}
	if got := Median([]float64{4, 1, 3, 2}); got != 2.5 {
		t.Errorf("median %v, want 2.5", got)
	}
}

// TestSpreadOfFew: the factors for few values against a simulation of 40,000
// normal samples of each size; 1.5 %.
func TestSpreadOfFew(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	xs := make([]float64, 14)
	for n := 2; n <= len(xs); n++ {
		sum, rounds := 0.0, 40_000
		for range rounds {
			for i := range xs[:n] {
				xs[i] = r.NormFloat64()
			}
			_, sd := Spread(xs[:n])
			sum += sd
		}
		near(t, "mean spread", sum/float64(rounds), 1, 0.015)
	}
	if m, sd := Spread([]float64{5}); m != 5 || sd != 0 {
		t.Errorf("of one value: %v, %v", m, sd)
	}
	near(t, "Normal", Normal, 1/Deviate(0.75), 1e-15)
}

func TestHampel(t *testing.T) {
	h := Hampel{Length: 5}
	if m, _ := h.Usual(); !math.IsNaN(m) {
		t.Errorf("median of nothing: %v", m)
	}
	for _, v := range []float64{1, 2, 3, 4, 5, 6, 7} {
		h.Take(v)
	}
	m, sd := h.Usual()
	near(t, "median of the last five", m, 5, 0)
	near(t, "spread", sd, 1*Normal*1.206, 1e-12)
	if h.Len() != 5 {
		t.Errorf("holds %d", h.Len())
	}
	flat := Hampel{}
	for range 20 {
		flat.Take(3)
	}
	near(t, "distance in resolutions", flat.Distance(3.5, 0.1), 5, 1e-12)
	far := flat // a copy is a value of its own
	far.Take(100)
	if flat.Usual(); flat.values == far.values {
		t.Error("a copy shares its window")
	}
}

func TestTakingAllocatesNothing(t *testing.T) {
	h, c, e, w, l, m := Hampel{}, Cusum{K: 1, H: 5}, Ewma{Lambda: 0.1, H: 1}, Whitener{Tau: 1e9, SD: 1}, Limit{Bound: 1}, Moments{}
	var p Profile
	i := int64(0)
	if n := testing.AllocsPerRun(100, func() {
		i++
		v := float64(i % 7)
		h.Take(v)
		h.Distance(v, 0.1)
		c.Take(w.Take(i*1000, v))
		e.Take(v)
		l.Take(i, v)
		m.Take(v)
		p.Take(int(i%24), v)
		p.At(12.3)
	}); n != 0 {
		t.Errorf("%v allocations", n)
	}
}
