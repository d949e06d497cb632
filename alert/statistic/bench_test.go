package statistic

import "testing"

func BenchmarkHampel(b *testing.B) {
	h := Hampel{Length: 7}
	for i := 0; b.Loop(); i++ {
		v := float64(i * 7919 % 101)
		h.Distance(v, 1)
		h.Take(v)
	}
}

func BenchmarkCusumLimit(b *testing.B) {
	for b.Loop() {
		CusumLimit(0.5, 1e6)
	}
}

func BenchmarkTheilSen(b *testing.B) {
	x, y := make([]float64, 60), make([]float64, 60)
	for i := range x {
		x[i], y[i] = float64(i), float64(i*7919%101)
	}
	for b.Loop() {
		TheilSen(x, y, 0.95)
	}
}
