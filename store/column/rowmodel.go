package column

import "math"

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
	p := partsOf(sum, good)
	s.learnMean(p.mean)
	return p.floor, p.ceil, p.rest
}

func (s *rowState) learnMean(mean int64) { s.est += (mean - s.est) >> s.follow }

// meanParts are the whole numbers that a mean lies between, how far it is above
// the lower, and itself in 1/2^rowFrac.
type meanParts struct{ floor, ceil, rest, mean int64 }

func partsOf(sum, good int64) (p meanParts) {
	p.floor = floorDiv(sum, good)
	p.rest = sum - p.floor*good
	if p.ceil = p.floor; p.rest > 0 {
		p.ceil++
	}
	p.mean = p.floor<<rowFrac + int64(uint64(p.rest)<<rowFrac/uint64(good))
	return p
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
