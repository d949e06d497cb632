package store

import (
	"encoding/binary"
	"errors"
	"slices"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// Window gives fn the sensor's readings with from <= At < to, oldest first,
// until it returns false. No readings, or no such sensor, is not an error. fn
// is called outside of any transaction and may take its time and write; a
// reading stored meanwhile may or may not be seen.
//
// Where a block is damaged the readings before and after it are given all the
// same, and ErrDamaged is returned at the end for the stretch that is missing.
func (s *Store) Window(k aquarium.SensorKey, from, to aquarium.Instant, fn func(aquarium.Reading) bool) error {
	x, ok := s.seriesFor(k)
	if !ok || from >= to {
		return s.usable()
	}
	w := window{s: s, x: x, from: from, to: to, keep: to <= from.Add(recentSpan)}
	if err := s.read(w.missing); err != nil {
		return errors.Join(append(w.damage, err)...)
	}
	for start, ok := w.next(never); ok; start, ok = w.next(start + 1) {
		more, err := w.stretch(start, fn)
		if err != nil {
			return errors.Join(append(w.damage, err)...)
		}
		if !more {
			break
		}
	}
	return errors.Join(w.damage...)
}

// usable is ErrClosed after Close.
func (s *Store) usable() error { return s.read(func(*bbolt.Tx) error { return nil }) }

// window is one look at a series.
type window struct {
	s        *Store
	x        *series
	from, to aquarium.Instant
	keep     bool // what is decoded, for the next one who asks
	damage   []error
	room     record.Column
}

// next is the first stretch at or after start that may have readings.
func (w *window) next(start aquarium.Instant) (aquarium.Instant, bool) {
	w.s.rlock()
	defer w.s.mu.RUnlock()
	g := w.x.group
	least := max(start, stretchOf(g.number, w.from))
	found := forever
	if w.x.first <= w.x.last && least <= w.x.last {
		found = max(stretchOf(g.number, least.Add(stretch)-1), w.x.first)
	}
	for open, p := range g.open {
		if open >= least && open < found && p.heads[w.x.number] != nil {
			found = open
		}
	}
	return found, found < w.to
}

// stretch gives fn the readings of a stretch that lie in the window, until it
// returns false. What is in the log only is looked at first: what is sealed in
// between is then in both, and nothing is in neither.
func (w *window) stretch(start aquarium.Instant, fn func(aquarium.Reading) bool) (more bool, err error) {
	pending := w.pending(start)
	cols, err := w.sealed(start)
	if err != nil {
		return false, err
	}
	cols = w.x.with(pending, cols)
	if len(cols) == 1 {
		return w.give(&cols[0], fn), nil
	}
	for _, r := range w.x.readings(cols, w.from, w.to) {
		if !fn(r) {
			return false, nil
		}
	}
	return true, nil
}

// sealed are the columns of a stretch's block. Nothing of them may be changed.
func (w *window) sealed(start aquarium.Instant) (cols []record.Column, err error) {
	k := recentKey{0, w.x.group.number, start}
	if cols, ok := w.s.recent.columns(k, w.x.number); ok {
		return cols, nil
	}
	now := w.s.recent.now()
	var prints []record.Print
	decode := func(b *record.Block, p record.Placed) (record.Column, error) {
		into := w.room
		w.room = record.Column{}
		return b.Column(p, into)
	}
	if w.keep {
		decode = func(b *record.Block, p record.Placed) (record.Column, error) {
			prints = append(prints, b.Print(p))
			if times := w.s.recent.times(k, b.Print(p)); times != nil {
				return b.With(times, p, record.Column{})
			}
			return b.Column(p, record.Column{})
		}
	}
	var damage []*Damage
	err = w.s.read(func(tx *bbolt.Tx) error {
		cols, damage = columnsOf(tx, w.s.path, w.x, start, decode)
		return nil
	})
	for _, d := range damage {
		w.damage = append(w.damage, d)
	}
	switch {
	case err != nil || len(damage) > 0 || len(cols) == 0:
	case w.keep:
		w.s.recent.putColumns(now, k, w.x.number, cols, prints)
	case len(cols) == 1:
		w.room = cols[0]
	}
	return cols, err
}

// give gives fn the readings of a column that lie in the window. Two take
// turns: a processor that is to copy what it has only just written in parts
// waits until it is written.
func (w *window) give(c *record.Column, fn func(aquarium.Reading) bool) (more bool) {
	i, j := reach(c, w.from, w.to)
	times, values, retimed := c.Times[i:j], c.Values[i:j], c.Retimed
	if retimed != nil {
		retimed = retimed[i:j]
	}
	this := aquarium.Reading{Sensor: w.x.key, Unit: c.Unit}
	next := this
	fill := func(r *aquarium.Reading, n int) {
		if n < len(times) {
			r.At, r.Value = aquarium.Instant(times[n]), values[n]
			r.Retimed = retimed != nil && retimed[n] == 1
		}
	}
	fill(&this, 0)
	for n := 0; n < len(times); n += 2 {
		fill(&next, n+1)
		if !fn(this) {
			return false
		}
		fill(&this, n+2)
		if n+1 < len(times) && !fn(next) {
			return false
		}
	}
	return true
}

// pending is what the log has of a stretch, nil for nothing.
func (w *window) pending(start aquarium.Instant) *head {
	w.s.rlock()
	defer w.s.mu.RUnlock()
	p := w.x.group.open[start]
	if p == nil || p.heads[w.x.number] == nil {
		return nil
	}
	return p.heads[w.x.number].around(w.from, w.to)
}

// with lays what is pending of a series over the columns of its block.
func (x *series) with(pending *head, cols []record.Column) []record.Column {
	if pending == nil {
		return cols
	}
	return overlayColumns(x.number, cols, pending.columns(x.number), nil)
}

// missing finds the columns that were put aside.
func (w *window) missing(tx *bbolt.Tx) error {
	c := tx.Bucket(damagedBucket).Cursor()
	for k, v := c.First(); k != nil; k, v = c.Next() {
		number, start, err := record.SplitKey(k)
		if err != nil || number != w.x.number {
			continue
		}
		until := start.Add(stretch)
		if kept, err := record.Open(k, v); err == nil && len(kept) >= 8 {
			until = aquarium.Instant(binary.LittleEndian.Uint64(kept))
		}
		if start < w.to && until > w.from {
			w.lost(damagedBucket, k, start, until, errPutAside)
		}
	}
	return nil
}

var errPutAside = errors.New("these readings were damaged and have been put aside")

func (w *window) lost(bucket, key []byte, from, until aquarium.Instant, err error) {
	if until == forever {
		until = 0
	}
	w.damage = append(w.damage, &Damage{
		File: w.s.path, Bucket: string(bucket), Key: slices.Clone(key), Sensor: w.x.key, From: from, To: until, Err: err,
	})
}
