package record

import (
	"encoding/binary"
	"fmt"
	"math"

	"lentic/collector/aquarium"
	"lentic/store/column"
)

// Rollup is the rows of one series in one unit within a rollup value.
type Rollup struct {
	Series uint32
	Unit   aquarium.Unit
	Rows   []column.Row
}

const rollupKind = 3

// EncodeRollups writes the rows of a group, each step long, under key.
func EncodeRollups(key []byte, step int64, rs []Rollup) []byte {
	head := binary.AppendUvarint([]byte{rollupKind}, uint64(step))
	head = binary.AppendUvarint(head, uint64(len(rs)))
	var body []byte
	for _, r := range rs {
		b := column.AppendRows(nil, step, r.Rows)
		head = binary.AppendUvarint(head, uint64(r.Series))
		head = appendString(head, string(r.Unit))
		head = binary.AppendUvarint(head, uint64(len(r.Rows)))
		head = binary.AppendUvarint(head, uint64(len(b)))
		body = append(body, b...)
		body = binary.LittleEndian.AppendUint32(body, checksum(key, b))
	}
	head = binary.LittleEndian.AppendUint32(head, checksum(key, head))
	return append(head, body...)
}

// DecodeRollups reads the rows of the series, of every series where it is 0.
// Where one cannot be read, the others are given beside the error.
func DecodeRollups(key, value []byte, series uint32) ([]Rollup, error) {
	r := reader{b: value}
	if kind := r.byte(); r.err == nil && kind != rollupKind {
		return nil, fmt.Errorf("%w: rollup of kind %d, want %d", ErrCorrupt, kind, rollupKind)
	}
	r.uvarint() // step: each column has it too
	n := r.length(value)
	type placed struct {
		Rollup
		rows uint64
		section
	}
	var ps []placed
	at := 0
	for range n {
		p := placed{Rollup: Rollup{Series: uint32(r.uvarint()), Unit: aquarium.Unit(r.string())}, rows: r.uvarint()}
		p.section = section{at: at, len: r.length(value)}
		if r.err != nil {
			return nil, r.err
		}
		at += p.len + sealed
		ps = append(ps, p)
	}
	head := len(value) - len(r.b)
	sum := r.take(sealed)
	switch {
	case r.err != nil:
		return nil, r.err
	case binary.LittleEndian.Uint32(sum) != checksum(key, value[:head]):
		return nil, errChecksum
	case at != len(r.b):
		return nil, fmt.Errorf("%w: %d bytes of rows, want %d", ErrCorrupt, len(r.b), at)
	}
	var rs []Rollup
	var lost error
	for _, p := range ps {
		if series != 0 && p.Series != series {
			continue
		}
		data := r.b[p.at : p.at+p.len]
		if binary.LittleEndian.Uint32(r.b[p.at+p.len:]) != checksum(key, data) {
			lost = fmt.Errorf("series %d: %w", p.Series, errChecksum)
			continue
		}
		rows, err := column.DecodeRows(nil, data, int(min(p.rows, maxColumn)))
		if err != nil {
			lost = fmt.Errorf("%w: series %d: %w", ErrCorrupt, p.Series, err)
			continue
		}
		p.Rows = rows
		rs = append(rs, p.Rollup)
	}
	return rs, lost
}

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

// Fold sums a column's readings up by steps of so many ms; good, where it is
// not nil, tells which of them may count, by their place.
func Fold(step int64, times []int64, values []float64, good func(i int) bool) []column.Row {
	var rows []column.Row
	var row *column.Row
	var sum Sums
	end := func() {
		if row != nil {
			row.Sum = sum.Value()
			sum = Sums{}
		}
	}
	for i, t := range times {
		if row == nil || t < row.At || t-row.At >= step {
			end()
			rows = append(rows, column.Row{At: floor(t, step)})
			row = &rows[len(rows)-1]
		}
		if good != nil && !good(i) {
			row.Others++
			continue
		}
		v := values[i]
		if row.Good == 0 {
			row.Min, row.Max = v, v
		}
		row.Min, row.Max = min(row.Min, v), max(row.Max, v)
		row.Good++
		sum.Add(v)
	}
	end()
	return rows
}

// FoldRows sums rows up to longer ones.
func FoldRows(step int64, fine []column.Row) []column.Row {
	var rows []column.Row
	var sum Sums
	end := func() {
		if n := len(rows); n > 0 {
			rows[n-1].Sum = sum.Value()
			sum = Sums{}
		}
	}
	for _, f := range fine {
		at := floor(f.At, step)
		if n := len(rows); n == 0 || rows[n-1].At != at {
			end()
			rows = append(rows, column.Row{At: at})
		}
		row := &rows[len(rows)-1]
		Join(row, f)
		if f.Good > 0 {
			sum.Add(f.Sum)
		}
	}
	end()
	return rows
}

// Join adds a row's counts and extent to those of another; the sums are the
// caller's.
func Join(row *column.Row, f column.Row) {
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
