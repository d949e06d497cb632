package column_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"lentic/store/column"
)

// TestFront: the first so many of a column, of any kind, are those that reading
// it all gives.
func TestFront(t *testing.T) {
	rnd := rand.New(rand.NewPCG(11, 3))
	columns := map[string]func(n int) []float64{
		"decimals": func(n int) []float64 { return walk(rnd, n, func(m int64) float64 { return float64(m) / 100 }) },
		"same":     func(n int) []float64 { return make([]float64, n) },
		"switch":   func(n int) []float64 { return walk(rnd, n, func(m int64) float64 { return float64(m & 1) }) },
		"odd ones": func(n int) []float64 {
			return walk(rnd, n, func(m int64) float64 {
				if m%40 == 0 {
					return math.Pi * float64(m)
				}
				return float64(m) / 10
			})
		},
		"few": func(n int) []float64 {
			return walk(rnd, n, func(m int64) float64 { return math.Sqrt(float64(2 + m&7)) })
		},
		"any": func(n int) []float64 {
			return walk(rnd, n, func(m int64) float64 { return math.Float64frombits(rnd.Uint64()) })
		},
		"singles": func(n int) []float64 { return walk(rnd, n, func(m int64) float64 { return float64(float32(m) / 10) }) },
		"jumps": func(n int) []float64 {
			return walk(rnd, n, func(m int64) float64 { return float64(m) * math.Pow10(rnd.IntN(7)) })
		},
	}
	for name, of := range columns {
		for _, mode := range modes {
			for range 20 {
				n := 1 + rnd.IntN(3000)
				vs := of(n)
				packed := column.AppendValues(nil, mode.mode, vs)
				for range 5 {
					m := rnd.IntN(n + 1)
					got, err := column.DecodeValuesFront(nil, packed, n, m)
					if err != nil || !slices.EqualFunc(got, vs[:m], func(a, b float64) bool { return math.Float64bits(a) == math.Float64bits(b) }) {
						t.Fatalf("%s, %s: the first %d of %d values differ, or %v", name, mode.name, m, n, err)
					}
				}
			}
		}
	}
	for _, c := range allStamps {
		for _, mode := range modes {
			for seed := range uint64(20) {
				n := 1 + rnd.IntN(3000)
				ts := grid(n, seed, c.jitter, c.missing)
				packed := column.AppendTimes(nil, mode.mode, ts)
				for range 5 {
					m := rnd.IntN(n + 1)
					got, err := column.DecodeTimesFront(nil, packed, n, m)
					if err != nil || !slices.Equal(got, ts[:m]) {
						t.Fatalf("%s, %s: the first %d of %d times differ, or %v", c.name, mode.name, m, n, err)
					}
				}
			}
		}
	}
	for _, m := range []int{-1, 6} {
		if _, err := column.DecodeTimesFront(nil, column.AppendTimes(nil, column.Small, []int64{1, 2, 3, 4, 5}), 5, m); err == nil {
			t.Errorf("the first %d of 5 times are no error", m)
		}
	}
}

// walk makes values of numbers that wander.
func walk(rnd *rand.Rand, n int, value func(m int64) float64) []float64 {
	vs := make([]float64, n)
	m := int64(650)
	for i := range vs {
		m += int64(rnd.NormFloat64())
		vs[i] = value(m)
	}
	return vs
}
