package store

import (
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
// units there is a Sum for each. Options.Good tells which readings count. The width is at least a millisecond. From ten
// minutes on it is fast where it is a multiple of ten minutes, of an hour or of
// a day: then most of it is read from sums that are kept. Of readings that have
// been forgotten for their age only such sums are left, and one that reaches
// over a stretch's end counts where it begins.
//
// Errors are as Window's.
func (s *Store) Sums(k aquarium.SensorKey, from, to aquarium.Instant, width time.Duration, fn func(aquarium.Sum) bool) error {
	x, ok := s.seriesFor(k)
	if !ok || from >= to {
		return s.usable()
	}
	g := gathering{s: s, x: x, width: width, fn: fn}
	if s.opt.Good != nil {
		g.good = s.opt.Good(k)
	}
	for _, part := range s.parts(x, from, to, width) {
		if err := part.gather(&g); err != nil {
			g.damage = append(g.damage, err)
			if !errors.Is(err, ErrDamaged) {
				return errors.Join(g.damage...)
			}
		}
		if g.stopped {
			return errors.Join(g.damage...)
		}
	}
	g.flush()
	return errors.Join(g.damage...)
}

// part is a stretch of time that is read from one place: the rows of a level,
// or the readings.
type part struct {
	from, to aquarium.Instant
	level    *level // nil: the readings
}

// parts splits from <= At < to up. What is pending is in no rows yet, so whole
// rows around it are read from the readings.
func (s *Store) parts(x *series, from, to aquarium.Instant, width time.Duration) []part {
	var l *level
	for i := range levels {
		if width%levels[i].step == 0 {
			l = &levels[i]
		}
	}
	kept := s.horizon(s.opt.Keep)
	s.mu.RLock()
	defer s.mu.RUnlock()
	if x.first > x.last {
		return []part{{from, to, nil}}
	}
	// Nothing lies before the first block or after the last but pending, so
	// that to ask for all there may ever be takes no longer. Whole days are
	// whole rows of every level.
	first, last := x.first, x.last
	var dirty []part
	for start, p := range x.group.open {
		if p.heads[x.number] != nil {
			dirty = append(dirty, part{from: start, to: start.Add(stretch)})
			first, last = min(first, start), max(last, start)
		}
	}
	const day = 24 * time.Hour
	from, to = max(from, first.Floor(day)), min(to, last.Add(stretch).Ceil(day))
	if l == nil {
		if old := min(to, kept.Ceil(minutes.step)); old > from {
			return append(s.cut(from, old, dirty, &minutes), part{old, to, nil})
		}
		return []part{{from, to, nil}}
	}
	return s.cut(from, to, dirty, l)
}

// cut reads from <= At < to from a level's rows, but from the readings where
// it begins or ends within a row and where rows are dirty.
func (s *Store) cut(from, to aquarium.Instant, dirty []part, l *level) []part {
	inner := part{from.Ceil(l.step), to.Floor(l.step), l}
	if inner.from >= inner.to {
		return []part{{from, to, nil}}
	}
	ps := []part{{from, inner.from, nil}, inner, {inner.to, to, nil}}
	for _, d := range dirty {
		d.from, d.to = d.from.Floor(l.step), d.to.Ceil(l.step)
		var next []part
		for _, p := range ps {
			if p.level == nil || d.to <= p.from || d.from >= p.to {
				next = append(next, p)
				continue
			}
			a, b := max(p.from, d.from), min(p.to, d.to)
			next = append(next, part{p.from, a, l}, part{a, b, nil}, part{b, p.to, l})
		}
		ps = next
	}
	return ps
}

func (p part) gather(g *gathering) error {
	switch {
	case p.from >= p.to:
		return nil
	case p.level == nil:
		return g.s.Window(g.x.key, p.from, p.to, func(r aquarium.Reading) bool {
			g.reading(r)
			return !g.stopped
		})
	}
	var damage error
	for at := p.level.begin(p.from, g.x.group.number); at < p.to && !g.stopped; at = at.Add(p.level.span) {
		key := p.level.key(at, g.x.group.number)
		var rs []record.Rollup
		there := false
		err := g.s.read(func(tx *bbolt.Tx) (err error) {
			if value := tx.Bucket(rollupsBucket).Get(key); value != nil {
				there = true
				rs, err = record.DecodeRollups(key, value, g.x.number)
			}
			return err
		})
		if !there && p.level.number == minutes.number { // its readings are still there
			raw := part{max(p.from, at), min(p.to, at.Add(stretch)), nil}
			if err := raw.gather(g); err != nil {
				damage = err
			}
			continue
		}
		if errors.Is(err, record.ErrCorrupt) {
			damage = &Damage{File: g.s.path, Bucket: string(rollupsBucket), Key: key, Sensor: g.x.key, From: at, To: at.Add(p.level.span), Err: err}
			err = nil
		}
		if err != nil {
			return err
		}
		g.rows(rs, p)
	}
	return damage
}

// gathering is one call of Sums.
type gathering struct {
	s       *Store
	x       *series
	width   time.Duration
	fn      func(aquarium.Sum) bool
	now     []gathered                                   // of one stretch, one for each unit
	good    func(value float64, unit aquarium.Unit) bool // nil: all are
	stopped bool
	damage  []error
}

type gathered struct {
	aquarium.Sum
	row  column.Row
	sums record.Sums
}

func (g *gathering) reading(r aquarium.Reading) {
	row := column.Row{At: int64(r.At), Good: 1, Min: r.Value, Max: r.Value}
	if g.good != nil && !g.good(r.Value, r.Unit) {
		row = column.Row{At: int64(r.At), Others: 1}
	}
	row.Sum = r.Value
	g.add(r.Unit, row)
}

// rows adds the rows of a part, in order of time whatever their units.
func (g *gathering) rows(rs []record.Rollup, p part) {
	at := make([]int, len(rs))
	for i := range rs {
		rs[i].Rows = between(rs[i].Rows, p.from, p.to)
	}
	for !g.stopped {
		next := -1
		for i, c := range rs {
			if at[i] < len(c.Rows) && (next < 0 || c.Rows[at[i]].At < rs[next].Rows[at[next]].At) {
				next = i
			}
		}
		if next < 0 {
			return
		}
		g.add(rs[next].Unit, rs[next].Rows[at[next]])
		at[next]++
	}
}

func (g *gathering) add(u aquarium.Unit, row column.Row) {
	at := aquarium.Instant(row.At).Floor(g.width)
	if len(g.now) > 0 && g.now[0].At != at {
		g.flush()
	}
	if g.stopped {
		return
	}
	i := 0
	for i < len(g.now) && g.now[i].Unit != u {
		i++
	}
	if i == len(g.now) {
		g.now = append(g.now, gathered{Sum: aquarium.Sum{At: at, Unit: u}})
	}
	record.Join(&g.now[i].row, row)
	if row.Good > 0 {
		g.now[i].sums.Add(row.Sum)
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
