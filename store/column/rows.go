package column

import (
	"encoding/binary"
	"math"
	"slices"
)

// Row is what a rollup keeps of the readings from At to one step later: how
// many were good, how many were not, and of the good ones the least, the
// greatest and the sum.
type Row struct {
	At            int64 // Unix ms, a multiple of the step
	Good, Others  uint32
	Min, Max, Sum float64
}

// The first byte of rows: the exponent of their decimals, then what follows.
const (
	rowsExp    = 0x0f
	rowsPlain  = 1 << 4 // least, greatest and sum are columns of values
	rowsOdd    = 1 << 5 // some rows are no decimals
	rowsSigned = 1 << 6 // a least or greatest of zero may be minus zero
)

const (
	worthRows = 8   // from so many rows on a model may pay
	smallRows = 128 // up to so many tables and states may not
)

// AppendRows appends a column of rows whose At rise strictly and are multiples
// of step, to dst. Rows whose sum is the decimal sum of their readings, as
// FromDecimal gives it, take least.
func AppendRows(dst []byte, step int64, rows []Row) []byte {
	mustFit(len(rows))
	at := len(dst)
	dst = appendHead(append(dst, rowsPlain), step, rows)
	head := len(dst)
	if len(rows) >= worthRows {
		if w := digest(rows); w != nil {
			var kind byte
			dst, kind = w.append(dst)
			if coded := len(dst) - head; len(rows) < smallRows {
				dst = appendPlain(dst, rows)
				if plain := dst[head+coded:]; len(plain) <= coded {
					return dst[:head+copy(dst[head:], plain)]
				}
				dst = dst[:head+coded]
			}
			dst[at] = kind
			return dst
		}
	}
	return appendPlain(dst, rows)
}

// appendHead writes the step, and times and counts, each behind its length.
func appendHead(dst []byte, step int64, rows []Row) []byte {
	for _, r := range rows {
		if step < 1 || r.At%step != 0 {
			step = 1
			break
		}
	}
	dst = binary.AppendUvarint(dst, uint64(step))
	p := getNumbers(len(rows))
	defer putNumbers(p)
	xs := *p
	for i, r := range rows {
		xs[i] = r.At / step
	}
	dst = appendPart(dst, AppendTimes(nil, Small, xs))
	for i, r := range rows {
		xs[i] = int64(r.Good)
	}
	dst = appendPart(dst, appendSeries(nil, Small, xs))
	for i, r := range rows {
		xs[i] = int64(r.Others)
	}
	return appendPart(dst, appendSeries(nil, Small, xs))
}

func appendPart(dst, part []byte) []byte {
	return append(binary.AppendUvarint(dst, uint64(len(part))), part...)
}

// part is what appendPart wrote.
func (r *reader) part() reader {
	n := r.uint()
	if n > uint64(len(r.b)) {
		r.bad, r.b = true, nil
		return reader{bad: true}
	}
	p := reader{b: r.b[:n]}
	r.b = r.b[n:]
	return p
}

// appendPlain writes least, greatest and sum as columns of values.
func appendPlain(dst []byte, rows []Row) []byte {
	vs := make([]float64, len(rows))
	for _, get := range []func(*Row) *float64{rowMin, rowMax, rowSum} {
		for i := range rows {
			vs[i] = *get(&rows[i])
		}
		dst = appendPart(dst, AppendValues(nil, Small, vs))
	}
	return dst
}

func rowMin(r *Row) *float64 { return &r.Min }
func rowMax(r *Row) *float64 { return &r.Max }
func rowSum(r *Row) *float64 { return &r.Sum }

// DecodeRows appends the n rows of the column b to dst. Bytes that are no such
// column are ErrDamaged, and dst is returned as it was.
func DecodeRows(dst []Row, b []byte, n int) ([]Row, error) {
	if err := checkLen(n); err != nil {
		return dst, err
	}
	had := len(dst)
	r := reader{b: b}
	head := r.byte()
	step := int64(r.uint())
	times, good, others := r.part(), r.part(), r.part()
	if r.bad || step < 1 || head&0x80 != 0 {
		return dst, damaged("head of rows")
	}
	p := getNumbers(n)
	defer putNumbers(p)
	xs, err := DecodeTimes((*p)[:0], times.b, n)
	if err != nil {
		return dst, err
	}
	dst = slices.Grow(dst, n)[:had+n]
	rows := dst[had:]
	for i, x := range xs {
		rows[i] = Row{At: x * step}
		if x > math.MaxInt64/step || x < math.MinInt64/step {
			return dst[:had], damaged("time of row %d", i)
		}
	}
	for _, c := range []struct {
		part *reader
		at   func(*Row) *uint32
	}{{&good, func(r *Row) *uint32 { return &r.Good }}, {&others, func(r *Row) *uint32 { return &r.Others }}} {
		c.part.readSeries(xs)
		for i, x := range xs {
			c.part.bad = c.part.bad || x < 0 || x > math.MaxUint32
			*c.at(&rows[i]) = uint32(x)
		}
		if c.part.bad {
			return dst[:had], damaged("counts of %d rows", n)
		}
	}
	if head&rowsPlain != 0 {
		err = r.plainRows(rows)
	} else {
		err = r.codedRows(rows, head)
	}
	if err != nil {
		return dst[:had], err
	}
	return dst, nil
}

func (r *reader) plainRows(rows []Row) error {
	var vs []float64
	for _, get := range []func(*Row) *float64{rowMin, rowMax, rowSum} {
		p := r.part()
		var err error
		if vs, err = DecodeValues(vs[:0], p.b, len(rows)); err != nil {
			return err
		}
		for i, v := range vs {
			*get(&rows[i]) = v
		}
	}
	if r.bad || len(r.b) > 0 {
		return damaged("values of %d rows", len(rows))
	}
	return nil
}
