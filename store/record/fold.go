package record

import (
	"math"

	"lentic/store/column"
)

// Sums adds up readings, exactly where they are decimals: as whole numbers in
// the unit of their last place, so that the sum is the same in any order.
type Sums struct {
	exp   uint8
	whole int64
	float float64 // what is no decimal, or too large
}

// Add adds a value.
func (s *Sums) Add(v float64) {
	// Mostly it has the last place of those before it.
	if m := math.RoundToEven(v * pow10[s.exp]); m < 1<<52 && m > -1<<52 && column.FromDecimal(int64(m), s.exp) == v && fits(s.whole) {
		s.whole += int64(m)
		return
	}
	m, exp, ok := column.Decimal(v)
	if !ok {
		s.float += v
		return
	}
	for ; s.exp < exp && fits(s.whole); s.exp++ {
		s.whole *= 10
	}
	for ; exp < s.exp && fits(m); exp++ {
		m *= 10
	}
	if s.exp != exp || !fits(s.whole) || !fits(m) {
		s.float += v
		return
	}
	s.whole += m
}

var pow10 = [maxExponent + 1]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// fits reports whether a number may grow tenfold.
func fits(m int64) bool { return m < math.MaxInt64/100 && m > -math.MaxInt64/100 }

// Value is the sum.
func (s *Sums) Value() float64 {
	if s.whole == 0 {
		return s.float
	}
	return column.FromDecimal(s.whole, s.exp) + s.float
}

// Fold sums a column's readings, rising in time, up by steps of so many ms;
// good, where it is not nil, tells which of them may count, by their place.
func Fold(step int64, times []int64, values []float64, good func(i int) bool) []column.Row {
	if len(times) == 0 {
		return nil
	}
	f := folding{rows: make([]column.Row, 0, rowsFor(len(times), times[0], times[len(times)-1], step))}
	n := 0 // readings that a row has
	for i := 0; i < len(times); i += n {
		at := floor(times[i], step)
		// Mostly it has as many as the one before.
		in := func(k int) bool { return uint64(times[k]-at) < uint64(step) }
		if n == 0 || i+n > len(times) || !in(i+n-1) || i+n < len(times) && in(i+n) {
			for n = 1; i+n < len(times) && in(i+n); n++ {
			}
		}
		row := f.row(at)
		some := values[i:][:n]
		if good != nil {
			some = f.room[:0]
			for k := i; k < i+n; k++ {
				if good(k) {
					some = append(some, values[k])
				}
			}
			f.room = some
			row.Others = uint32(n - len(some))
		}
		if len(some) > 0 {
			row.Good = uint32(len(some))
			f.fold(row, some)
		}
	}
	return f.rows
}

// FoldRows sums rows, rising in time, up to longer ones.
func FoldRows(step int64, fine []column.Row) []column.Row {
	if len(fine) == 0 {
		return nil
	}
	f := folding{rows: make([]column.Row, 0, rowsFor(len(fine), fine[0].At, fine[len(fine)-1].At, step))}
	for i := 0; i < len(fine); {
		row := f.row(floor(fine[i].At, step))
		f.room = f.room[:0]
		for ; i < len(fine) && uint64(fine[i].At-row.At) < uint64(step); i++ {
			Join(row, &fine[i])
			if fine[i].Good > 0 {
				f.room = append(f.room, fine[i].Sum)
			}
		}
		row.Sum = f.sum(f.room)
	}
	return f.rows
}

// rowsFor is how many rows there may be of n times from first to last.
func rowsFor(n int, first, last, step int64) int {
	return int(min(uint64(n), uint64(last-first)/uint64(step)+2))
}

// folding makes rows. Their sums are those that Sums gives, which mostly come
// out of whole numbers at the exponent of the row before.
type folding struct {
	rows []column.Row
	exp  uint8
	room []float64
}

// row begins the next one.
func (f *folding) row(at int64) *column.Row {
	f.rows = append(f.rows, column.Row{At: at})
	return &f.rows[len(f.rows)-1]
}

const (
	// foldMax and foldMost bound whole numbers and how many are summed up, so
	// that no sum of them is near what an int64 holds.
	foldMax  = 1 << 36
	foldMost = 1 << 18
	// foldSum is up to where whole numbers are exact doubles: their quotient
	// is then the same at every exponent they have.
	foldSum = 1 << 53
)

// fold makes the least, greatest and sum of a row of values. It compares whole
// numbers, for which no processor has to guess which is less.
func (f *folding) fold(row *column.Row, vs []float64) {
	p := pow10[f.exp]
	least, most, sum := int64(foldMax), int64(-foldMax), int64(0)
	for _, v := range vs {
		m := math.RoundToEven(v * p)
		if m/p != v || m >= foldMax || m <= -foldMax || m == 0 && math.Signbit(v) {
			f.foldAny(row, vs)
			return
		}
		whole := int64(m)
		sum += whole
		least, most = min(least, whole), max(most, whole)
	}
	if len(vs) > foldMost || sum >= foldSum || sum <= -foldSum {
		f.foldAny(row, vs)
		return
	}
	row.Min, row.Max, row.Sum = float64(least)/p, float64(most)/p, float64(sum)/p
}

// foldAny is fold for values that are not all decimals of that exponent, or
// minus zero.
func (f *folding) foldAny(row *column.Row, vs []float64) {
	row.Min, row.Max = vs[0], vs[0]
	for _, v := range vs {
		row.Min, row.Max = min(row.Min, v), max(row.Max, v)
	}
	row.Sum = f.sumAny(vs)
}

// sum is the sum that Sums gives.
func (f *folding) sum(vs []float64) float64 {
	p := pow10[f.exp]
	sum := int64(0)
	for _, v := range vs {
		m := math.RoundToEven(v * p)
		if m/p != v || m >= foldMax || m <= -foldMax {
			return f.sumAny(vs)
		}
		sum += int64(m)
	}
	if len(vs) > foldMost || sum >= foldSum || sum <= -foldSum {
		return f.sumAny(vs)
	}
	return float64(sum) / p
}

func (f *folding) sumAny(vs []float64) float64 {
	var s Sums
	for _, v := range vs {
		s.Add(v)
	}
	f.exp = s.exp
	return s.Value()
}

// Join adds a row's counts and extent to those of another; the sums are the
// caller's.
func Join(row, f *column.Row) {
	row.Others += f.Others
	if f.Good == 0 {
		return
	}
	if row.Good == 0 {
		row.Min, row.Max = f.Min, f.Max
	}
	row.Min, row.Max = min(row.Min, f.Min), max(row.Max, f.Max)
	row.Good += f.Good
}

func floor(t, step int64) int64 {
	r := t % step
	if r < 0 {
		r += step
	}
	return t - r
}
