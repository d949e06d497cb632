package store

import (
	"encoding/binary"
	"slices"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// loadBounds reads how far each series is sealed. Bounds that cannot be read
// are found anew from the keys of the blocks.
func (s *Store) loadBounds(tx *bbolt.Tx) error {
	lost := map[uint32]bool{}
	known := map[uint32]bool{}
	err := tx.Bucket(boundsBucket).ForEach(func(k, v []byte) error {
		if len(k) != 4 {
			return nil // Check names it
		}
		number := binary.BigEndian.Uint32(k)
		s.catalogue.nextGroup = max(s.catalogue.nextGroup, number+1)
		known[number] = true
		var bs []record.Bounds
		content, err := record.Open(k, v)
		if err == nil {
			bs, err = record.DecodeBounds(content)
		}
		if err != nil {
			d := &Damage{File: s.path, Bucket: string(boundsBucket), Key: slices.Clone(k), Err: err}
			s.damage = append(s.damage, d)
			s.opt.Log.Error("the bounds of a tank's readings are lost and looked for", "err", d)
			lost[number] = true
			return nil
		}
		for _, b := range bs {
			if x := s.catalogue.byNumber[b.Series]; x != nil {
				x.first, x.last = b.First, b.Last
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	if len(lost) > 0 {
		s.findBounds(tx, lost)
	}
	for _, x := range s.catalogue.series {
		if x.first > x.last {
			x.latest, x.known = aquarium.Reading{At: never}, true
		}
	}
	return nil
}

// findBounds takes the bounds of the groups' series from the heads of their
// blocks.
func (s *Store) findBounds(tx *bbolt.Tx, groups map[uint32]bool) {
	c := tx.Bucket(blocksBucket).Cursor()
	for k, v := c.First(); k != nil; k, v = c.Next() {
		start, number, err := record.SplitBlockKey(k)
		if err != nil || !groups[number] {
			continue
		}
		b, err := record.OpenBlock(k, v)
		if err != nil {
			continue
		}
		for _, p := range b.Columns {
			if x := s.catalogue.byNumber[p.Series]; x != nil {
				x.first, x.last = min(x.first, start), max(x.last, start)
			}
		}
	}
}

// replay reads the log: what of it is in no block yet is pending.
func (s *Store) replay(tx *bbolt.Tx) error {
	type blockKey struct {
		group uint32
		start aquarium.Instant
	}
	through := map[blockKey]uint64{}
	sealedThrough := func(x *series, at aquarium.Instant) uint64 {
		k := blockKey{x.group.number, stretchOf(x.group.number, at)}
		seq, ok := through[k]
		if ok {
			return seq
		}
		key := record.BlockKey(k.start, k.group)
		if v := tx.Bucket(blocksBucket).Get(key); v != nil {
			if b, err := record.OpenBlock(key, v); err == nil {
				seq = b.Through
			}
		}
		through[k] = seq
		return seq
	}
	var rs []standing
	now := aquarium.At(s.opt.Now())
	return tx.Bucket(logBucket).ForEach(func(k, v []byte) error {
		rs = rs[:0]
		seq, err := record.SplitLogKey(k)
		if err == nil {
			err = decodeLog(k, v, func(l record.Logged) {
				if x := s.catalogue.byNumber[l.Series]; x != nil && sealedThrough(x, l.Reading.At) < seq {
					r := *l.Reading
					rs = append(rs, standing{x, &r})
				}
			})
		}
		if err != nil {
			d := &Damage{File: s.path, Bucket: string(logBucket), Key: slices.Clone(k), Err: err}
			s.damage = append(s.damage, d)
			s.opt.Log.Error("a log record is lost: readings of one commit", "err", d)
			return nil
		}
		s.catalogue.take(seq, rs, now)
		return nil
	})
}

func decodeLog(k, v []byte, fn func(record.Logged)) error {
	content, err := record.Open(k, v)
	if err != nil {
		return err
	}
	return record.DecodeLog(content, fn)
}
