package column

import (
	"encoding/binary"
	"math"
)

// A rollup's rows are coded against their mean: the sum is foretold from a mean
// that follows those before, least and greatest from the row's own mean, of
// which they lie below and above by as much as the sensor is noisy. Where that
// noise is about a unit, how far the mean is from the next whole number tells
// more than anything, and least and greatest are each other's image.

// rowModel is how rows are coded, as it is written: the numbers first.
type rowModel struct {
	unit   int64 // all are multiples of it
	mean   int64 // the first forecast of the mean, in units
	follow uint  // of the mean, 0 to followMax
	spread uint  // of least and greatest: 0 by the mean's place, else they follow by 1/2^(spread-1)
}

const (
	spreadByPlace = 0
	spreadMax     = 7

	// Tables: the sum's, then either one of spread or one for each place.
	sumTable    = 0
	spreadTable = 1
	places      = 5
	minusTable  = spreadTable + places // minus zero: least, then greatest

	// What is foretold of rows is kept in 1/2^rowFrac.
	rowFrac = 16
	rowHalf = 1 << (rowFrac - 1)
)

// place is where between two whole numbers the mean lies, as seen from below
// and from above: 0 on one, 1 to 3 from near to far. Where it is on one and is
// the least, it is the greatest too: that is the greatest's place 4.
func place(rest, good int64) (below, above int) {
	if rest == 0 {
		return 0, 0
	}
	p := int(uint64(rest)*3/uint64(good)) + 1
	return p, 4 - p
}

// rowState is what forecasting rows carries from one to the next.
type rowState struct {
	rowModel
	est          int64 // of the mean, in 1/2^rowFrac
	below, above int64 // of the spread, likewise
}

func (m rowModel) begin() rowState { return rowState{rowModel: m, est: m.mean << rowFrac} }

// sum is the forecast of the sum of so many.
func (s *rowState) sum(good int64) int64 { return (good*s.est + rowHalf) >> rowFrac }

// learn takes a sum in, and gives the whole numbers its mean lies between.
func (s *rowState) learn(sum, good int64) (floor, ceil, rest int64) {
	floor = floorDiv(sum, good)
	rest = sum - floor*good
	if ceil = floor; rest > 0 {
		ceil++
	}
	mean := floor<<rowFrac + int64(uint64(rest)<<rowFrac/uint64(good))
	s.est += (mean - s.est) >> s.follow
	return floor, ceil, rest
}

// spreads are the forecasts of how far below and above.
func (s *rowState) spreads() (below, above int64) {
	if s.spread == spreadByPlace {
		return 0, 0
	}
	return (s.below + rowHalf) >> rowFrac, (s.above + rowHalf) >> rowFrac
}

func (s *rowState) learnSpread(below, above int64) {
	if s.spread != spreadByPlace {
		s.below += (below<<rowFrac - s.below) >> (s.spread - 1)
		s.above += (above<<rowFrac - s.above) >> (s.spread - 1)
	}
}

// wholeRow is a row's decimals as whole numbers in units.
type wholeRow struct {
	good, min, max, sum int64
	minusMin, minusMax  bool
}

// rowWriter is rows on their way to being coded.
type rowWriter struct {
	rows   []Row
	exp    uint8
	odd    []int
	signed bool
	unit   int64
	whole  []wholeRow // without the odd ones and those that have no good reading
}

// digest takes rows apart, nil where they are too odd to be modelled.
func digest(rows []Row) *rowWriter {
	w := &rowWriter{rows: rows}
	for i := 0; i < len(rows); i += 1 + len(rows)/64 {
		for _, v := range [...]float64{rows[i].Min, rows[i].Max, rows[i].Sum} {
			if _, e, ok := Decimal(v); ok && e > w.exp {
				w.exp = e
			}
		}
	}
	var g uint64
	for i := range rows {
		r, ok := wholeOf(&rows[i], w.exp)
		if !ok {
			w.odd = append(w.odd, i)
			continue
		}
		if r.good == 0 {
			continue
		}
		for _, x := range [...]int64{r.min, r.max, r.sum} {
			if g != 1 && x != 0 {
				g = divisor(g, uint64(max(x, -x)))
			}
		}
		w.signed = w.signed || r.minusMin || r.minusMax
		w.whole = append(w.whole, r)
	}
	if len(w.odd) > 1+len(rows)/16 {
		return nil
	}
	w.unit = max(1, int64(g))
	for i := range w.whole {
		r := &w.whole[i]
		r.min, r.max, r.sum = r.min/w.unit, r.max/w.unit, r.sum/w.unit
	}
	return w
}

// wholeOf is a row as whole numbers, if it has them. One without good readings
// has nothing but zeros.
func wholeOf(r *Row, exp uint8) (w wholeRow, ok bool) {
	if w.good = int64(r.Good); w.good == 0 {
		return w, math.Float64bits(r.Min)|math.Float64bits(r.Max)|math.Float64bits(r.Sum) == 0
	}
	lo, hi := r.Min, r.Max
	if lo == 0 {
		w.minusMin, lo = math.Signbit(lo), 0
	}
	if hi == 0 {
		w.minusMax, hi = math.Signbit(hi), 0
	}
	var ok1, ok2, ok3 bool
	w.min, ok1 = quotient.whole(lo, exp)
	w.max, ok2 = quotient.whole(hi, exp)
	w.sum, ok3 = quotient.whole(r.Sum, exp)
	return w, ok1 && ok2 && ok3
}

// run forecasts every row and gives what each forecast missed, by table.
func (w *rowWriter) run(m rowModel, give func(table int, d int64)) {
	s := m.begin()
	for i := range w.whole {
		r := &w.whole[i]
		give(sumTable, r.sum-s.sum(r.good))
		floor, ceil, rest := s.learn(r.sum, r.good)
		inside, outside := 0, 0
		if m.spread == spreadByPlace {
			inside, outside = place(rest, r.good)
			if rest == 0 && r.min == floor {
				outside = places - 1
			}
		}
		fb, fa := s.spreads()
		below, above := floor-r.min, r.max-ceil
		give(spreadTable+inside, below-fb)
		if w.signed && r.min == 0 {
			give(minusTable, int64(flag(r.minusMin)))
		}
		give(spreadTable+outside, above-fa)
		if w.signed && r.max == 0 {
			give(minusTable+1, int64(flag(r.minusMax)))
		}
		s.learnSpread(below, above)
	}
}

// choose tries every way to follow the mean, and every way to see the spread:
// the two do not touch.
func (w *rowWriter) choose() rowModel {
	best := rowModel{unit: w.unit}
	if len(w.whole) > 0 {
		best.mean = floorDiv(w.whole[0].sum, w.whole[0].good)
	}
	sums, spreads := math.Inf(1), math.Inf(1)
	m := best
	for k := range uint(spreadMax + 1) {
		m.follow, m.spread = min(k, followMax), k
		var sum, spread []int64
		var byPlace [places][]int64
		w.run(m, func(table int, d int64) {
			switch {
			case table == sumTable:
				sum = append(sum, d)
			case table >= minusTable:
			case m.spread == spreadByPlace:
				byPlace[table-spreadTable] = append(byPlace[table-spreadTable], d)
			default:
				spread = append(spread, d)
			}
		})
		if bits, _ := shiftCost(sum, len(sum)); bits < sums {
			sums, best.follow = bits, m.follow
		}
		bits := 0.0
		if k == spreadByPlace {
			for _, ds := range byPlace {
				bits += costAt(ds, 0, len(ds))
			}
		} else {
			bits, _ = shiftCost(spread, len(spread))
		}
		if bits < spreads {
			spreads, best.spread = bits, k
		}
	}
	return best
}

// append writes the coded rows, and is their first byte.
func (w *rowWriter) append(dst []byte) ([]byte, byte) {
	kind := w.exp
	if len(w.odd) > 0 {
		kind |= rowsOdd
		dst = w.appendOdd(dst)
	}
	if w.signed {
		kind |= rowsSigned
	}
	m := w.choose()
	dst = binary.AppendUvarint(dst, uint64(m.unit))
	dst = appendInt(dst, m.mean)
	dst = append(dst, byte(m.follow)<<4|byte(m.spread))
	var hs [maxTables]hist
	var ds []int64
	var tables []uint8
	w.run(m, func(table int, d int64) {
		tables, ds = append(tables, uint8(table)), append(ds, d)
	})
	shiftOf := func(first, past int) uint {
		var some []int64
		for i, t := range tables {
			if int(t) >= first && int(t) < past {
				some = append(some, ds[i])
			}
		}
		_, shift := shiftCost(some, len(some))
		return shift
	}
	var shifts [maxTables]uint
	shifts[sumTable] = shiftOf(sumTable, sumTable+1)
	if m.spread != spreadByPlace {
		shifts[spreadTable] = shiftOf(spreadTable, minusTable)
	}
	for i, t := range tables {
		hs[t].add(ds[i] >> shifts[t])
	}
	bw := bitWriter{b: dst}
	ts := new([maxTables]table)
	var groups [maxTables]*group
	for _, span := range m.groups(w.signed) {
		g := plan(hs[span.first:span.past], shifts[span.first])
		g.write(&bw)
		g.tables(ts[span.first:span.past])
		for t := span.first; t < span.past; t++ {
			groups[t] = &g
		}
	}
	codes := make([]code, len(ds))
	for i, t := range tables {
		codes[i] = bw.putResidual(groups[t], int(t), ds[i])
	}
	return appendCodes(bw.close(), codes, ts[:]), kind
}

type groupSpan struct{ first, past int }

// groups are which tables are written together.
func (m rowModel) groups(signed bool) []groupSpan {
	spans := []groupSpan{{sumTable, sumTable + 1}, {spreadTable, spreadTable + 1}}
	if m.spread == spreadByPlace {
		spans[1].past = minusTable
	}
	if signed {
		spans = append(spans, groupSpan{minusTable, minusTable + 2})
	}
	return spans
}

// appendOdd writes how many odd rows there are, then each: the distance from
// the one before, and its three doubles.
func (w *rowWriter) appendOdd(dst []byte) []byte {
	dst = binary.AppendUvarint(dst, uint64(len(w.odd)))
	last := 0
	for _, i := range w.odd {
		r := &w.rows[i]
		dst = binary.AppendUvarint(dst, uint64(i-last))
		for _, v := range [...]float64{r.Min, r.Max, r.Sum} {
			dst = binary.LittleEndian.AppendUint64(dst, math.Float64bits(v))
		}
		last = i
	}
	return dst
}

// codedRows fills the values of rows, of which times and counts are there.
func (r *reader) codedRows(rows []Row, head byte) error {
	odd := make([]bool, len(rows))
	if head&rowsOdd != 0 && !r.oddRows(rows, odd) {
		return damaged("odd rows")
	}
	m := rowModel{unit: int64(r.uint()), mean: r.int()}
	ways := r.byte()
	m.follow, m.spread = uint(ways>>4), uint(ways&0xf)
	d := decoders.Get().(*decoder)
	defer d.release()
	if r.bad || m.follow > followMax || m.spread > spreadMax || !d.open(r.b) {
		return damaged("model of rows")
	}
	signed := head&rowsSigned != 0
	for _, span := range m.groups(signed) {
		g, ok := readGroup(&d.bits, span.past-span.first)
		if !ok {
			return damaged("tables of rows")
		}
		g.entries(d, span.first, false)
	}
	s := m.begin()
	exp := head & rowsExp
	for i := range rows {
		if odd[i] || rows[i].Good == 0 {
			continue
		}
		s.read(d, &rows[i], exp, signed)
		if d.bad {
			break
		}
	}
	if !d.done() {
		return damaged("%d rows", len(rows))
	}
	return nil
}

// read undoes one turn of run.
func (s *rowState) read(d *decoder, row *Row, exp uint8, signed bool) {
	good := int64(row.Good)
	sum := s.sum(good) + d.next(sumTable)
	floor, ceil, rest := s.learn(sum, good)
	inside, outside := 0, 0
	fb, fa := s.spreads()
	if s.spread == spreadByPlace {
		inside, outside = place(rest, good)
	}
	below := d.next(spreadTable+inside) + fb
	if s.spread == spreadByPlace && rest == 0 && below == 0 {
		outside = places - 1
	}
	lo := floor - below
	minusMin := signed && lo == 0 && d.next(minusTable) != 0
	above := d.next(spreadTable+outside) + fa
	hi := ceil + above
	minusMax := signed && hi == 0 && d.next(minusTable+1) != 0
	s.learnSpread(below, above)
	row.Min, row.Max, row.Sum = FromDecimal(lo*s.unit, exp), FromDecimal(hi*s.unit, exp), FromDecimal(sum*s.unit, exp)
	if minusMin {
		row.Min = math.Copysign(0, -1)
	}
	if minusMax {
		row.Max = math.Copysign(0, -1)
	}
}

// oddRows reads what appendOdd wrote into rows, and marks them.
func (r *reader) oddRows(rows []Row, odd []bool) bool {
	at := uint64(0)
	for i := range r.uint() {
		far := r.uint()
		if at += far; r.bad || far > Max || at >= uint64(len(rows)) || i > 0 && far == 0 {
			return false
		}
		odd[at] = true
		row := &rows[at]
		row.Min, row.Max, row.Sum = math.Float64frombits(r.uint64()), math.Float64frombits(r.uint64()), math.Float64frombits(r.uint64())
	}
	return !r.bad
}
