package column

import (
	"encoding/binary"
	"math"
)

// wholeRow is a row's decimals as whole numbers in units.
type wholeRow struct {
	good, min, max, sum int64
	meanParts
	minusMin, minusMax bool
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
		r.meanParts = partsOf(r.sum, r.good) // once, for all models that are tried
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
func (w *rowWriter) run(rows []wholeRow, m rowModel, give func(table int, d int64)) {
	s := m.begin()
	for i := range rows {
		r := &rows[i]
		give(sumTable, r.sum-s.sum(r.good))
		s.learnMean(r.mean)
		floor, ceil, rest := r.floor, r.ceil, r.rest
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
			give(minusTable, int64(bit(r.minusMin)))
		}
		give(spreadTable+outside, above-fa)
		if w.signed && r.max == 0 {
			give(minusTable+1, int64(bit(r.minusMax)))
		}
		s.learnSpread(below, above)
	}
}

// rowSample is how many rows ways are tried on at most, from the middle.
const rowSample = 384

// choose tries every way to follow the mean, and every way to see the spread:
// the two do not touch.
func (w *rowWriter) choose() rowModel {
	best := rowModel{unit: w.unit}
	if len(w.whole) > 0 {
		best.mean = floorDiv(w.whole[0].sum, w.whole[0].good)
	}
	sums, spreads := math.Inf(1), math.Inf(1)
	m := best
	sample := w.whole[max(0, len(w.whole)/2-rowSample/2):]
	sample = sample[:min(len(sample), rowSample)]
	if len(sample) > 0 {
		m.mean = floorDiv(sample[0].sum, sample[0].good)
	}
	var room [2][2 * rowSample]int64
	for k := range uint(spreadMax + 1) {
		m.follow, m.spread = min(k, followMax), k
		sum, spread := room[0][:0], room[1][:0]
		var byPlace [places][]int64
		w.run(sample, m, func(table int, d int64) {
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
	tables, ds = make([]uint8, 0, 3*len(w.whole)), make([]int64, 0, 3*len(w.whole))
	w.run(w.whole, m, func(table int, d int64) {
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
	return appendCodes(bw.close(), codes, ts), kind
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
