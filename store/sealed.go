package store

import (
	"fmt"
	"slices"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// sealedReadings are the readings of a series in the block that begins at
// start, oldest first, and what of them is damaged. No block is no error.
func sealedReadings(tx *bbolt.Tx, path string, x *series, start aquarium.Instant) ([]aquarium.Reading, []*Damage, error) {
	key := record.BlockKey(start, x.group.number)
	value := tx.Bucket(blocksBucket).Get(key)
	if value == nil {
		return nil, nil, nil
	}
	lost := func(err error) *Damage {
		return &Damage{File: path, Bucket: string(blocksBucket), Key: key, Sensor: x.key, From: start, To: start.Add(stretch), Err: err}
	}
	b, err := record.OpenBlock(key, value)
	if err != nil {
		return nil, []*Damage{lost(err)}, nil
	}
	var rs []aquarium.Reading
	var damage []*Damage
	parts := 0
	for _, p := range b.Columns {
		if p.Series != x.number {
			continue
		}
		c, err := b.Column(p)
		if err == nil {
			err = within(c, start)
		}
		if err != nil {
			damage = append(damage, lost(err))
			continue
		}
		rs = slices.Grow(rs, len(c.Times))
		for i, at := range c.Times {
			rs = append(rs, aquarium.Reading{
				Sensor: x.key, At: aquarium.Instant(at), Value: c.Values[i], Unit: c.Unit,
				Retimed: c.Retimed != nil && c.Retimed[i] == 1,
			})
		}
		parts++
	}
	if parts > 1 { // one for each unit
		slices.SortStableFunc(rs, func(a, b aquarium.Reading) int { return byTime(a, b.At) })
	}
	return rs, damage, nil
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
