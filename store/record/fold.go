package record

import (
	"math"
	"slices"

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

// Fold sums a column's readings, rising in time, up by steps of so many ms, and
// appends the rows to room; good, where it is not nil, tells which of them may
// count, by their place.
func Fold(room []column.Row, step int64, times []int64, values []float64, good func(i int) bool) []column.Row {
	if len(times) == 0 {
		return room
	}
	var f folding
	rows := slices.Grow(room, rowsFor(len(times), times[0], times[len(times)-1], step))
	at := floor(times[0], step) - step
	n := 0 // readings that a row has
	for i := 0; i < len(times); i += n {
		at = following(at, times[i], step)
		n = within(times[i:], at, step, n)
		rows = append(rows, column.Row{At: at})
		row := &rows[len(rows)-1]
		some := values[i:][:n]
		if good != nil {
			some = f.good(row, some, i, good)
		}
		if len(some) > 0 {
			row.Good = uint32(len(some))
			f.fold(row, some)
		}
	}
	return rows
}

// good are the values that may count, from the i-th of all on.
func (f *folding) good(row *column.Row, vs []float64, i int, good func(i int) bool) []float64 {
	f.room = f.room[:0]
	for k, v := range vs {
		if good(i + k) {
			f.room = append(f.room, v)
		}
	}
	row.Others = uint32(len(vs) - len(f.room))
	return f.room
}

// following is where the row after that at a time begins, in which t lies: mostly
// the next, which takes no division to tell.
func following(at, t, step int64) int64 {
	if at += step; uint64(t-at) < uint64(step) {
		return at
	}
	return floor(t, step)
}

// within is how many times lie in the row that begins at a time, the first of
// which does: mostly as many as the row before had.
func within(times []int64, at, step int64, guess int) int {
	n := min(max(guess, 1), len(times))
	for n > 1 && uint64(times[n-1]-at) >= uint64(step) {
		n--
	}
	for n < len(times) && uint64(times[n]-at) < uint64(step) {
		n++
	}
	return n
}

// FoldRows sums rows, rising in time, up to longer ones, and appends these to room.
func FoldRows(room []column.Row, step int64, fine []column.Row) []column.Row {
	if len(fine) == 0 {
		return room
	}
	var f folding
	rows := slices.Grow(room, rowsFor(len(fine), fine[0].At, fine[len(fine)-1].At, step))
	at := floor(fine[0].At, step) - step
	for i := 0; i < len(fine); {
		at = following(at, fine[i].At, step)
		n := 1
		for i+n < len(fine) && uint64(fine[i+n].At-at) < uint64(step) {
			n++
		}
		rows = append(rows, column.Row{At: at})
		f.join(&rows[len(rows)-1], fine[i:][:n])
		i += n
	}
	return rows
}

// rowsFor is how many rows there may be of n times from first to last.
func rowsFor(n int, first, last, step int64) int {
	return int(min(uint64(n), uint64(last-first)/uint64(step)+2))
}

// folding makes rows. Their sums are those that Sums gives, which mostly come
// out of whole numbers at the exponent of the row before.
type folding struct {
	exp  uint8
	room []float64
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
// numbers, for which no processor has to guess which is less, and asks only at the
// end whether all values were such numbers of that exponent.
func (f *folding) fold(row *column.Row, vs []float64) {
	p := pow10[f.exp]
	least, most, sum, off := int64(foldMax), int64(-foldMax), int64(0), uint64(0)
	for _, v := range vs {
		m, whole := rounded(v * p)
		off |= math.Float64bits(m/p) ^ math.Float64bits(v)
		sum += whole
		least, most = min(least, whole), max(most, whole)
	}
	if off != 0 || !inBounds(len(vs), least, most, sum) {
		f.foldAny(row, vs)
		return
	}
	row.Min, row.Max, row.Sum = float64(least)/p, float64(most)/p, float64(sum)/p
}

// inBounds reports whether n whole numbers are such that no sum of them, and not
// this one, is too large.
func inBounds(n int, least, most, sum int64) bool {
	return n <= foldMost && least > -foldMax && most < foldMax && sum < foldSum && sum > -foldSum
}

// rounded is x rounded to the nearest whole number, as a double and as an integer,
// where it lies within 2^51 of 0; where it does not, the integer lies beyond foldMax.
// Beside 1.5 * 2^52 the last place of a double is one, and its bits count up.
func rounded(x float64) (m float64, whole int64) {
	const large = 1<<52 + 1<<51
	y := x + large
	return y - large, int64(math.Float64bits(y)) - int64(0x4338000000000000)
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

// join makes one row of some. It compares their bits: in order they are whole
// numbers too.
func (f *folding) join(row *column.Row, fine []column.Row) {
	p := pow10[f.exp]
	lowest, highest := int64(math.MaxInt64), int64(math.MinInt64)
	least, most, sum := int64(foldMax), int64(-foldMax), int64(0)
	for i := range fine {
		x := &fine[i]
		m, whole := rounded(x.Sum * p)
		if m/p != x.Sum || x.Good == 0 {
			f.joinAny(row, fine)
			return
		}
		sum += whole
		least, most = min(least, whole), max(most, whole)
		row.Good, row.Others = row.Good+x.Good, row.Others+x.Others
		lowest, highest = min(lowest, order(x.Min)), max(highest, order(x.Max))
	}
	if !inBounds(len(fine), least, most, sum) {
		f.joinAny(row, fine)
		return
	}
	row.Min, row.Max, row.Sum = unorder(lowest), unorder(highest), float64(sum)/p
}

// joinAny is join for any rows: also such as count no reading, or are no decimals.
func (f *folding) joinAny(row *column.Row, fine []column.Row) {
	*row = column.Row{At: row.At}
	f.room = f.room[:0]
	for i := range fine {
		Join(row, &fine[i])
		if fine[i].Good > 0 {
			f.room = append(f.room, fine[i].Sum)
		}
	}
	row.Sum = f.sumAny(f.room)
}

// order is a whole number that is greater for a greater double; of minus zero it
// is less than of zero. NaN has no order.
func order(v float64) int64 {
	b := int64(math.Float64bits(v))
	return b ^ int64(uint64(b>>63)>>1)
}

func unorder(x int64) float64 { return math.Float64frombits(uint64(x ^ int64(uint64(x>>63)>>1))) }

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
