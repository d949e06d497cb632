package store

import (
	"slices"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// gather holds the readings of one series and stretch that are being imported.
// While they come in order of time, in one unit and none of them retimed, as
// histories mostly do, they are kept as the column that they will be; after that
// in a head.
type gather struct {
	column record.Column
	head   *head // nil: they came so
}

func newGather(series uint32, room int) *gather {
	return &gather{column: record.Column{Series: series, Times: make([]int64, 0, room), Values: make([]float64, 0, room)}}
}

// again empties it for another series: the room stays.
func (g *gather) again(series uint32) {
	c := &g.column
	*c = record.Column{Series: series, Times: c.Times[:0], Values: c.Values[:0]}
}

// len is how many readings it has.
func (g *gather) len() int {
	if g.head != nil {
		return g.head.len()
	}
	return len(g.column.Times)
}

// follow adds a reading that is later than all others, false where it is not,
// or not like them.
func (g *gather) follow(r *aquarium.Reading) bool {
	c := &g.column
	n := len(c.Times)
	switch {
	case g.head != nil || r.Retimed:
		return false
	case n == 0:
		c.Unit = r.Unit
	case int64(r.At) <= c.Times[n-1] || r.Unit != c.Unit:
		return false
	}
	c.Times, c.Values = append(c.Times, int64(r.At)), append(c.Values, r.Value)
	return true
}

// get is the reading of that time.
func (g *gather) get(at aquarium.Instant) (aquarium.Reading, bool) {
	if g.head != nil {
		return g.head.get(at)
	}
	c := &g.column
	i, found := slices.BinarySearch(c.Times, int64(at))
	if !found {
		return aquarium.Reading{}, false
	}
	return aquarium.Reading{At: at, Value: c.Values[i], Unit: c.Unit}, true
}

// put adds a reading, or replaces that of the same time.
func (g *gather) put(r *aquarium.Reading) {
	if g.head == nil {
		g.head = &head{}
		for i, at := range g.column.Times {
			g.head.put(&record.Point{At: aquarium.Instant(at), Value: g.column.Values[i], Unit: g.column.Unit})
		}
		g.column.Times, g.column.Values = nil, nil
	}
	p := record.PointOf(r)
	g.head.put(&p)
}

func (g *gather) columns() []record.Column {
	if g.head != nil {
		return g.head.columns(g.column.Series)
	}
	return []record.Column{g.column}
}
