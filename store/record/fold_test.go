package record

import (
	"math"
	"math/rand/v2"
	"testing"

	"lentic/store/column"
)

// plainFold sums up reading by reading.
func plainFold(step int64, times []int64, values []float64, good func(i int) bool) (rows []column.Row) {
	var sum Sums
	for i, t := range times {
		if n := len(rows); n == 0 || rows[n-1].At != floor(t, step) {
			rows, sum = append(rows, column.Row{At: floor(t, step)}), Sums{}
		}
		row := &rows[len(rows)-1]
		if good != nil && !good(i) {
			row.Others++
			continue
		}
		Join(row, &column.Row{Good: 1, Min: values[i], Max: values[i]})
		sum.Add(values[i])
		row.Sum = sum.Value()
	}
	return rows
}

func plainFoldRows(step int64, fine []column.Row) (rows []column.Row) {
	var sum Sums
	for _, f := range fine {
		if n := len(rows); n == 0 || rows[n-1].At != floor(f.At, step) {
			rows, sum = append(rows, column.Row{At: floor(f.At, step)}), Sums{}
		}
		row := &rows[len(rows)-1]
		Join(row, &f)
		if f.Good > 0 {
			sum.Add(f.Sum)
			row.Sum = sum.Value()
		}
	}
	return rows
}

// TestFoldAsOneByOne: rows are bit by bit those of summing up one reading after
// the other, whatever values are among them.
func TestFoldAsOneByOne(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	odd := []float64{0, math.Copysign(0, -1), math.NaN(), math.Inf(1), math.Inf(-1), 1.0 / 3, 1e300, 5e-324, 1e15 + 0.5, 9007199254740993, 123456789012.345, -9e14}
	for round := range 3000 {
		n := rnd.IntN(400)
		times, values := make([]int64, n), make([]float64, n)
		at := rnd.Int64N(1<<41) - 1<<40
		exp, size := rnd.IntN(16), 1+rnd.Int64N(1<<(1+rnd.IntN(52)))
		strange := rnd.IntN(4) * rnd.IntN(20)
		for i := range n {
			at += 1 + rnd.Int64N(1+rnd.Int64N(300))
			times[i] = at
			values[i] = column.FromDecimal(rnd.Int64N(size)-size/2, uint8(exp))
			switch {
			case rnd.IntN(100) < strange:
				values[i] = odd[rnd.IntN(len(odd))]
			case rnd.IntN(50) == 0:
				exp = rnd.IntN(16)
			}
		}
		var good func(i int) bool
		if rnd.IntN(2) == 0 {
			k := 2 + rnd.IntN(20)
			good = func(i int) bool { return i%k != 0 && !math.IsNaN(values[i]) }
		}
		step := 1 + rnd.Int64N(2000)
		rows := Fold(nil, step, times, values, good)
		if at := differ(rows, plainFold(step, times, values, good)); at >= 0 {
			t.Fatalf("round %d: row %d differs", round, at)
		}
		step *= 1 + rnd.Int64N(12)
		if at := differ(FoldRows(nil, step, rows), plainFoldRows(step, rows)); at >= 0 {
			t.Fatalf("round %d: longer row %d differs", round, at)
		}
	}
}

// differ is the first row that is not the same bit by bit, -1 where all are.
func differ(a, b []column.Row) int {
	for i := range max(len(a), len(b)) {
		if i >= len(a) || i >= len(b) || a[i].At != b[i].At || a[i].Good != b[i].Good || a[i].Others != b[i].Others ||
			!sameBits(a[i].Min, b[i].Min) || !sameBits(a[i].Max, b[i].Max) || !sameBits(a[i].Sum, b[i].Sum) {
			return i
		}
	}
	return -1
}

// sameBits takes all NaN for one: which of two a sum has is the processor's.
func sameBits(a, b float64) bool {
	return math.Float64bits(a) == math.Float64bits(b) || math.IsNaN(a) && math.IsNaN(b)
}

func BenchmarkFold(b *testing.B) {
	const n, sensors = 4320, 12
	rnd := rand.New(rand.NewPCG(1, 1))
	times, values := make([]int64, n), make([][]float64, sensors)
	for i := range n {
		times[i] = int64(i)*10_000 + rnd.Int64N(40)
	}
	for k := range values {
		for range n {
			values[k] = append(values[k], float64(650+rnd.IntN(20))/100)
		}
	}
	for _, c := range []struct {
		name  string
		steps []int64
	}{{"four", []int64{60_000, 600_000, 3_600_000, 86_400_000}}, {"three", []int64{600_000, 3_600_000, 86_400_000}}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				for _, vs := range values {
					rows := Fold(nil, c.steps[0], times, vs, nil)
					for _, step := range c.steps[1:] {
						rows = FoldRows(nil, step, rows)
					}
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/(n*sensors), "ns/reading")
		})
	}
}
