package store

import (
	"math"
	"slices"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// columnBuilder makes columns, one for each unit, of a series' readings in
// order of time.
type columnBuilder struct {
	series  uint32
	room    int // readings that will come, as far as known
	columns []record.Column
}

func (b *columnBuilder) add(r aquarium.Reading) {
	retimed := uint8(0)
	if r.Retimed {
		retimed = 1
	}
	b.cell(r.Unit, int64(r.At), r.Value, retimed)
}

func (b *columnBuilder) cell(unit aquarium.Unit, at int64, value float64, retimed uint8) {
	c := b.column(unit)
	if retimed != 0 && c.Retimed == nil {
		c.Retimed = make([]uint8, len(c.Times))
	}
	c.Times, c.Values = append(c.Times, at), append(c.Values, value)
	if c.Retimed != nil {
		c.Retimed = append(c.Retimed, retimed)
	}
}

// column is that of a unit, made where there is none.
func (b *columnBuilder) column(unit aquarium.Unit) *record.Column {
	i := slices.IndexFunc(b.columns, func(c record.Column) bool { return c.Unit == unit })
	if i < 0 {
		i = len(b.columns)
		b.columns = append(b.columns, record.Column{
			Series: b.series, Unit: unit, Times: make([]int64, 0, b.room), Values: make([]float64, 0, b.room),
		})
	}
	return &b.columns[i]
}

// overlayColumns merges two sets of columns of one series; of two readings for
// the same time it takes that of over; or asks met, where it is not nil, which
// is told whether they say the same.
func overlayColumns(series uint32, under, over []record.Column, met func(same bool) (takeOver bool)) []record.Column {
	if len(under) == 0 {
		return over
	}
	if len(over) == 0 {
		return under
	}
	a, b := walkOf(under), walkOf(over)
	out := columnBuilder{series: series, room: a.left + b.left}
	for a.left > 0 || b.left > 0 {
		ca, ta := a.next()
		cb, tb := b.next()
		if cb < 0 || ca >= 0 && ta < tb {
			a.take(ca, &out)
			continue
		}
		if ca >= 0 && ta == tb {
			if met != nil {
				x, y := &under[ca], &over[cb]
				if !met(x.Unit == y.Unit && math.Float64bits(x.Values[a.at[ca]]) == math.Float64bits(y.Values[b.at[cb]])) {
					a.take(ca, &out)
					b.take(cb, nil)
					continue
				}
			}
			a.take(ca, nil)
		}
		b.take(cb, &out)
	}
	return out.columns
}

// without is a series' columns without the readings of times that others have.
func without(series uint32, cols, others []record.Column) []record.Column {
	if len(others) == 0 {
		return cols
	}
	a, b := walkOf(cols), walkOf(others)
	out := columnBuilder{series: series, room: a.left}
	for a.left > 0 {
		ca, ta := a.next()
		cb, tb := b.next()
		switch {
		case cb >= 0 && tb < ta:
			b.take(cb, nil)
		case cb >= 0 && tb == ta:
			a.take(ca, nil)
		default:
			a.take(ca, &out)
		}
	}
	return out.columns
}

// walk goes through a series' columns in order of time.
type walk struct {
	columns []record.Column
	at      []int // how far in each
	left    int
}

func walkOf(cols []record.Column) walk {
	w := walk{columns: cols, at: make([]int, len(cols))}
	for _, c := range cols {
		w.left += len(c.Times)
	}
	return w
}

// next is the column whose reading is next, -1 at the end, and its time.
func (w *walk) next() (int, int64) {
	found, at := -1, int64(0)
	for i, c := range w.columns {
		if n := w.at[i]; n < len(c.Times) && (found < 0 || c.Times[n] < at) {
			found, at = i, c.Times[n]
		}
	}
	return found, at
}

// take moves on in a column, and gives the reading to out where there is one.
func (w *walk) take(i int, out *columnBuilder) {
	c, n := &w.columns[i], w.at[i]
	w.at[i]++
	w.left--
	if out == nil {
		return
	}
	retimed := uint8(0)
	if c.Retimed != nil {
		retimed = c.Retimed[n]
	}
	out.cell(c.Unit, c.Times[n], c.Values[n], retimed)
}
