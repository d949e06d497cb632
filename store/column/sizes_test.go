package column_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"lentic/store/column"
)

// TestSizes holds what columns take against the entropy of what no predictor
// can know, and against plain bytes where there is none. The bounds are common
// practice, no source: what this package once reached, and a little.
func TestSizes(t *testing.T) {
	times := func(n int, jitter, missing float64) []byte {
		return column.AppendTimes(nil, column.Small, grid(n, 7, jitter, missing))
	}
	bits := func(jitter float64) float64 { return entropy0(noise(grid(perColumn, 7, jitter, 0))) }
	r := rand.New(rand.NewPCG(1, 1))
	made := func(n int, value func(i int) float64) []byte {
		vs := make([]float64, n)
		for i := range vs {
			vs[i] = value(i)
		}
		return column.AppendValues(nil, column.Small, vs)
	}
	random := func(int) float64 { return math.Float64frombits(r.Uint64()) }
	for _, c := range []struct {
		name string
		got  []byte
		most float64
	}{
		{"a stamp every 10 s", times(perColumn, 0, 0), 12},
		{"ten of them", times(10, 0, 0), 12},
		{"one in a hundred missing", times(perColumn, 0, 0.01), 12 + 3*0.01*perColumn},
		{"20 ms late", times(perColumn, 20, 0), 1.03 * bits(20)},
		{"300 ms late", times(perColumn, 300, 0), 1.05 * bits(300)},
		{"20 ms late, one in a hundred missing", times(perColumn, 20, 0.01), 1.03*bits(20) + 3*0.01*perColumn},
		{"all the same", made(perColumn, func(int) float64 { return 24.5 }), 6},
		{"a steady counter", made(perColumn, func(i int) float64 { return float64(7 * i) }), 24},
		{"any bits", made(perColumn, random), 8*perColumn + 400},
		{"thirds", made(perColumn, func(int) float64 { return float64(r.IntN(8)) / 3 }), 7 * perColumn},
		{"tenths reckoned in 32 bits", made(perColumn, func(int) float64 { return float64(float32(r.IntN(8)) / 10) }), 0.4 * perColumn},
		{"tenths by multiplication", made(perColumn, func(int) float64 { return float64(200+r.IntN(8)) * 0.1 }), 0.4 * perColumn},
		{"one NaN among tenths", made(perColumn, func(i int) float64 {
			if i == 100 {
				return math.NaN()
			}
			return 24.5
		}), 24},
		{"zeros of either sign", made(perColumn, func(int) float64 { return math.Copysign(0, r.Float64()-0.5) }), 1.1 * perColumn / 8},
		{"ten readings of pH", made(10, func(int) float64 { return float64(658+r.IntN(3)) / 100 }), 12},
	} {
		if float64(len(c.got)) > c.most {
			t.Errorf("%s: %d bytes, want at most %.0f", c.name, len(c.got), c.most)
		}
	}
	sum, floor := 0, 0.0
	for _, s := range atrium() {
		b := column.AppendValues(nil, column.Small, s.values)
		e := residualEntropy(mantissas(s.values))
		sum, floor = sum+len(b), floor+e
		if float64(len(b)) > 1.06*e+16 {
			t.Errorf("%s: %d bytes, the entropy of its residuals is %.0f", s.name, len(b), e)
		}
	}
	if float64(sum) > floor {
		t.Errorf("twelve sensors: %d bytes, the entropy of their residuals is %.0f", sum, floor)
	}
}

// TestRowSizes holds rows against the bytes they may add to each reading at
// 10 s: 0.03 for those of ten minutes, an hour and a day, 0.17 with minutes.
func TestRowSizes(t *testing.T) {
	size, readings := map[int]int{}, 0
	for _, s := range tenDays() {
		readings += len(s.values)
		for _, per := range []int{6, 60, 360, 8640} {
			size[per] += len(column.AppendRows(nil, int64(per)*every, rollUp(s.values, per)))
		}
	}
	long := float64(size[60]+size[360]+size[8640]) / float64(readings)
	if all := long + float64(size[6])/float64(readings); long > 0.022 || all > 0.12 {
		t.Errorf("rows add %.4f bytes to a reading, with minutes %.4f; want 0.022 and 0.12", long, all)
	}
}
