package store

import (
	"fmt"
	"slices"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// sealedColumns decodes a series' columns of the block that begins at start,
// one for each unit, the first into room, and tells what of them is damaged. No
// block is no error.
func sealedColumns(tx *bbolt.Tx, path string, x *series, start aquarium.Instant, room record.Column) ([]record.Column, []*Damage) {
	return columnsOf(tx, path, x, start, func(b *record.Block, p record.Placed) (record.Column, error) {
		into := room
		room = record.Column{}
		return b.Column(p, into)
	})
}

// columnsOf is sealedColumns with a way of its own to decode.
func columnsOf(tx *bbolt.Tx, path string, x *series, start aquarium.Instant, decode func(*record.Block, record.Placed) (record.Column, error)) ([]record.Column, []*Damage) {
	key := record.BlockKey(start, x.group.number)
	value := tx.Bucket(blocksBucket).Get(key)
	lost := func(err error) *Damage {
		return &Damage{File: path, Bucket: string(blocksBucket), Key: key, Offset: offsetOf(tx, value), Sensor: x.key, From: start, To: start.Add(stretch), Err: err}
	}
	if value == nil { // or a bent page hides it
		if err := sound(tx, source{bucket: string(blocksBucket)}, key); err != nil {
			return nil, []*Damage{lost(err)}
		}
		return nil, nil
	}
	b, err := record.OpenBlock(key, value)
	if err != nil {
		return nil, []*Damage{lost(err)}
	}
	var cols []record.Column
	var damage []*Damage
	for _, p := range b.Columns {
		if p.Series != x.number {
			continue
		}
		c, err := decode(b, p)
		if err == nil {
			err = within(c, start)
		}
		if err != nil {
			damage = append(damage, lost(err))
			continue
		}
		cols = append(cols, c)
	}
	return cols, damage
}

// readingAt is one of a column's readings.
func (x *series) readingAt(c *record.Column, i int) aquarium.Reading {
	return aquarium.Reading{
		Sensor: x.key, At: aquarium.Instant(c.Times[i]), Value: c.Values[i], Unit: c.Unit,
		Retimed: c.Retimed != nil && c.Retimed[i] == 1,
	}
}

// readings are those of columns from <= At < to, oldest first.
func (x *series) readings(cols []record.Column, from, to aquarium.Instant) []aquarium.Reading {
	var rs []aquarium.Reading
	for n := range cols {
		i, j := reach(&cols[n], from, to)
		rs = slices.Grow(rs, j-i)
		for ; i < j; i++ {
			rs = append(rs, x.readingAt(&cols[n], i))
		}
	}
	if len(cols) > 1 {
		slices.SortStableFunc(rs, func(a, b aquarium.Reading) int { return byTime(a, b.At) })
	}
	return rs
}

// reach is which of a column's readings have from <= At < to.
func reach(c *record.Column, from, to aquarium.Instant) (i, j int) {
	i, _ = slices.BinarySearch(c.Times, int64(from))
	j, _ = slices.BinarySearch(c.Times, int64(to))
	return i, max(i, j)
}

// within checks that a column's readings belong into the block.
func within(c record.Column, start aquarium.Instant) error {
	if n := len(c.Times); n == 0 || c.Times[0] < int64(start) || c.Times[n-1] >= int64(start.Add(stretch)) {
		return fmt.Errorf("%w: readings outside of the block's time", record.ErrCorrupt)
	}
	return nil
}

func byTime(r aquarium.Reading, at aquarium.Instant) int {
	switch {
	case r.At < at:
		return -1
	case r.At > at:
		return 1
	}
	return 0
}
