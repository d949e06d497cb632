package store

import (
	"bytes"
	"errors"
	"time"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/column"
	"lentic/store/record"
)

// Sums gives fn what the sensor's readings with from <= At < to come to in
// stretches of that width, aligned to the Unix epoch, oldest first, until it
// returns false; a stretch without readings is left out, and of one in several
// units there is a Sum for each. Options.Good tells which readings count. The
// width is at least a millisecond. Where it is a multiple of ten minutes, of an
// hour or of a day, it is made of sums that are kept, which is fast; where it is
// not, but twenty minutes or more, of these and of the readings around the ends
// of each stretch. Of readings that have been forgotten for their age only sums
// are left, and one that reaches over a stretch's end counts where it begins.
//
// Errors are as Window's.
func (s *Store) Sums(k aquarium.SensorKey, from, to aquarium.Instant, width time.Duration, fn func(aquarium.Sum) bool) error {
	x, ok := s.seriesFor(k)
	if !ok || from >= to {
		return s.usable()
	}
	g := gathering{s: s, x: x, fn: fn, window: window{s: s, x: x}}
	if s.opt.Good != nil {
		g.good = s.opt.Good(k)
	}
	g.parting = s.parting(x, from, to, width)
	g.foresee()
	for p := range g.parting.all() {
		err := g.part(p)
		if err != nil || g.stopped {
			return errors.Join(append(g.damage, err)...)
		}
	}
	g.flush()
	return errors.Join(g.damage...)
}

// gathering is one call of Sums.
type gathering struct {
	s       *Store
	x       *series
	parting parting
	fn      func(aquarium.Sum) bool
	now     []gathered // of one stretch, one for each unit
	end     aquarium.Instant
	good    func(value float64, unit aquarium.Unit) bool // nil: all are
	stopped bool
	damage  []error
	// What was read last is kept, for one block, or one value of rows, has
	// many parts.
	window window
	block  opened
	room   record.Column
	folded []column.Row
	values [8]rowsOf // by the level's number
}

type gathered struct {
	aquarium.Sum
	row  column.Row
	sums record.Sums
}

// opened is a block that was decoded, up to a time.
type opened struct {
	start, until aquarium.Instant
	columns      []record.Column
	is           bool
}

// rowsOf is a value of a level that was decoded.
type rowsOf struct {
	start     aquarium.Instant
	key       []byte
	columns   []record.Rollup
	is, there bool
}

// worthForeseeing is from how many values on it is worth to tell ahead of them: that
// takes some tens of microseconds, whether or not they are in memory.
const worthForeseeing = 8

// foresee tells ahead of the values of rows that will be read and are not kept.
func (g *gathering) foresee() {
	l := g.parting.level
	if l == nil {
		return
	}
	var keys [][]byte
	for at := l.begin(g.parting.from, g.x.group.number); at < g.parting.to; at = at.Add(l.span) {
		if _, kept := g.s.recent.rows(recentKey{l.number, g.x.group.number, at}, g.x.number); !kept {
			keys = append(keys, l.key(at, g.x.group.number))
		}
	}
	if len(keys) >= worthForeseeing {
		g.s.foreseeValues(rollupsBucket, keys)
	}
}

func (g *gathering) part(p part) error {
	if p.level == nil {
		return g.readings(p)
	}
	for at := p.level.begin(p.from, g.x.group.number); at < p.to && !g.stopped; at = at.Add(p.level.span) {
		v, err := g.value(p.level, at)
		if err != nil {
			return err
		}
		if !v.there && p.level.number == minutes.number { // its readings are still there
			if err := g.readings(part{max(p.from, at), min(p.to, at.Add(stretch)), nil}); err != nil {
				return err
			}
			continue
		}
		g.rows(v.columns, part{max(p.from, at), min(p.to, at.Add(p.level.span)), p.level})
	}
	return nil
}

// value reads a value of rows.
func (g *gathering) value(l *level, at aquarium.Instant) (*rowsOf, error) {
	v := &g.values[l.number]
	if v.is && v.start == at {
		return v, nil
	}
	before := *v
	*v = rowsOf{start: at}
	k := recentKey{l.number, g.x.group.number, at}
	if v.columns, v.there = g.s.recent.rows(k, g.x.number); v.there {
		v.is = true
		return v, nil
	}
	now := g.s.recent.now()
	err := g.s.read(func(tx *bbolt.Tx) (err error) {
		var value []byte
		v.key, value = l.value(tx, at, g.x.group.number)
		switch v.there = value != nil; {
		case v.there && before.is && bytes.Equal(v.key, before.key): // an older one, that is longer
			v.columns = before.columns
		case v.there:
			v.columns, err = record.DecodeRollups(v.key, value, g.x.number)
		}
		return err
	})
	if errors.Is(err, record.ErrCorrupt) {
		g.damage = append(g.damage, &Damage{File: g.s.path, Bucket: string(rollupsBucket), Key: v.key, Sensor: g.x.key, From: at, To: at.Add(l.span), Err: err})
		v.is = true
		return v, nil
	}
	if v.is = err == nil; v.is && v.there && g.parting.to.Sub(g.parting.from) <= recentRows*l.step {
		g.s.recent.putRows(now, k, g.x.number, v.columns)
	}
	return v, err
}

// readings adds the readings of a part.
func (g *gathering) readings(p part) error {
	w := &g.window
	w.from, w.to = p.from, p.to
	for start, ok := w.next(never); ok && !g.stopped; start, ok = w.next(start + 1) {
		pending := w.pending(start)
		cols, err := g.sealed(start, p.to)
		if err != nil {
			return err
		}
		cols = w.x.with(pending, cols)
		if len(cols) == 1 {
			g.column(&cols[0], p)
			continue
		}
		for _, r := range w.x.readings(cols, p.from, p.to) {
			g.reading(r)
		}
	}
	return nil
}

// sealed decodes a block up to a time, and tells what is missing of it. One whose
// stretch had something pending is read anew for each part: it may have been
// sealed between. One that more than one part is likely to lie in, or is found to,
// is decoded to its end.
func (g *gathering) sealed(start, until aquarium.Instant) ([]record.Column, error) {
	now := &g.block
	again := now.is && now.start == start
	if again && now.until >= until {
		return now.columns, nil
	}
	end := start.Add(stretch)
	if again || g.parting.width < stretch/2 {
		until = end
	}
	*now = opened{start: start, until: end}
	var kept bool
	if now.columns, kept = g.s.recent.columns(recentKey{0, g.x.group.number, start}, g.x.number); kept {
		now.is = !g.parting.pending(start)
		return now.columns, nil
	}
	w := window{s: g.s, x: g.x, from: start, to: end}
	room := g.room
	err := g.s.read(func(tx *bbolt.Tx) error {
		var damage []*Damage
		now.columns, damage = columnsOf(tx, g.s.path, g.x, start, func(b *record.Block, p record.Placed) (record.Column, error) {
			into := room
			room = record.Column{}
			if until >= end {
				return b.Column(p, into)
			}
			// A sensor that sends evenly has so many before.
			guess := int(int64(p.N)*int64(until-start)/int64(end-start)) + p.N/64 + 16
			return b.Front(p, until, guess, into)
		})
		for _, d := range damage {
			w.damage = append(w.damage, d)
		}
		return w.missing(tx)
	})
	g.damage = append(g.damage, w.damage...)
	if now.until, now.is = until, err == nil && !g.parting.pending(start); len(now.columns) == 1 {
		g.room = now.columns[0]
	}
	return now.columns, err
}

// column adds the readings of a column that lie in a part.
func (g *gathering) column(c *record.Column, p part) {
	i, j := reach(c, p.from, p.to)
	values := c.Values[i:j]
	var good func(i int) bool
	if g.good != nil {
		good = func(i int) bool { return g.good(values[i], c.Unit) }
	}
	g.folded = record.Fold(g.folded[:0], g.parting.width.Milliseconds(), c.Times[i:j], values, good)
	g.addAll(c.Unit, g.folded)
}

func (g *gathering) reading(r aquarium.Reading) {
	row := column.Row{At: int64(r.At), Good: 1, Min: r.Value, Max: r.Value}
	if g.good != nil && !g.good(r.Value, r.Unit) {
		row = column.Row{At: int64(r.At), Others: 1}
	}
	row.Sum = r.Value
	g.add(r.Unit, &row)
}

// rows adds the rows of a part, in order of time whatever their units.
func (g *gathering) rows(rs []record.Rollup, p part) {
	if len(rs) == 1 {
		g.addAll(rs[0].Unit, between(rs[0].Rows, p.from, p.to))
		return
	}
	left := make([][]column.Row, len(rs))
	for i, c := range rs {
		left[i] = between(c.Rows, p.from, p.to)
	}
	for !g.stopped {
		next := -1
		for i, rows := range left {
			if len(rows) > 0 && (next < 0 || rows[0].At < left[next][0].At) {
				next = i
			}
		}
		if next < 0 {
			return
		}
		g.add(rs[next].Unit, &left[next][0])
		left[next] = left[next][1:]
	}
}

func (g *gathering) addAll(u aquarium.Unit, rows []column.Row) {
	for i := range rows {
		g.add(u, &rows[i])
	}
}

func (g *gathering) add(u aquarium.Unit, row *column.Row) {
	if len(g.now) == 0 || aquarium.Instant(row.At) >= g.end {
		g.flush()
		g.end = aquarium.Instant(row.At).Floor(g.parting.width).Add(g.parting.width)
	}
	if g.stopped {
		return
	}
	i := 0
	for i < len(g.now) && g.now[i].Unit != u {
		i++
	}
	if i == len(g.now) {
		g.now = append(g.now, gathered{Sum: aquarium.Sum{At: g.end.Add(-g.parting.width), Unit: u}})
	}
	x := &g.now[i]
	record.Join(&x.row, row)
	if row.Good > 0 {
		x.sums.Add(row.Sum)
	}
}

func (g *gathering) flush() {
	for _, x := range g.now {
		x.Good, x.Others, x.Min, x.Max, x.Sum.Sum = int(x.row.Good), int(x.row.Others), x.row.Min, x.row.Max, x.sums.Value()
		if !g.stopped && !g.fn(x.Sum) {
			g.stopped = true
		}
	}
	g.now = g.now[:0]
}
