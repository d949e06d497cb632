package store

import (
	"context"
	"encoding/binary"
	"slices"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// loadBounds reads how far each series is sealed, and says of which groups that
// cannot be read.
func (s *Store) loadBounds(tx *bbolt.Tx) (lost map[uint32]bool, err error) {
	lost = map[uint32]bool{}
	return lost, tx.Bucket(boundsBucket).ForEach(func(k, v []byte) error {
		if len(k) != 4 {
			return nil // Check names it
		}
		number := binary.BigEndian.Uint32(k)
		s.catalogue.nextGroup = max(s.catalogue.nextGroup, number+1)
		var bs []record.Bounds
		content, err := record.Open(k, v)
		if err == nil {
			bs, err = record.DecodeBounds(content)
		}
		if err != nil {
			d := &Damage{File: s.path, Bucket: string(boundsBucket), Key: slices.Clone(k), Err: err}
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
}

// findBounds takes the bounds of the groups' series from the heads of their
// blocks.
func (s *Store) findBounds(groups map[uint32]bool) error {
	if len(groups) == 0 {
		return nil
	}
	return s.walk(context.Background(), source{bucket: string(blocksBucket)}, nil, func(k, v []byte) error {
		start, number, err := record.SplitBlockKey(k)
		if err != nil || !groups[number] {
			return nil
		}
		b, err := record.OpenBlock(k, v)
		if err != nil {
			return nil // Check names it
		}
		for _, p := range b.Columns {
			if x := s.catalogue.byNumber[p.Series]; x != nil {
				x.first, x.last = min(x.first, start), max(x.last, start)
			}
		}
		return nil
	}, nil)
}

// replay reads the log: what of it is in no block yet is pending. Nobody writes
// yet, so that steps see one state.
func (s *Store) replay() error {
	type blockKey struct {
		group uint32
		start aquarium.Instant
	}
	through := map[blockKey]uint64{}
	sealedThrough := func(x *series, at aquarium.Instant) uint64 {
		k := blockKey{x.group.number, stretchOf(x.group.number, at)}
		seq, ok := through[k]
		if !ok {
			seq = s.sealedThrough(record.BlockKey(k.start, k.group))
			through[k] = seq
		}
		return seq
	}
	var rs []standing
	now := aquarium.At(s.opt.Now())
	return s.walk(context.Background(), source{bucket: string(logBucket)}, nil, func(k, v []byte) error {
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
			s.opt.Log.Error("a log record is lost: readings of one commit", "err", d)
			return nil
		}
		s.catalogue.take(seq, seq, rs, now)
		return nil
	}, nil)
}

// sealedThrough is the last log record that a block has, 0 where there is none.
func (s *Store) sealedThrough(key []byte) (seq uint64) {
	err := s.read(func(tx *bbolt.Tx) error {
		v := tx.Bucket(blocksBucket).Get(key)
		if v == nil {
			return nil
		}
		b, err := record.OpenBlock(key, v)
		if err == nil {
			seq = b.Through
		}
		return err
	})
	if err != nil {
		return 0 // as if it were not there: what the log has stands
	}
	return seq
}

func decodeLog(k, v []byte, fn func(record.Logged)) error {
	content, err := record.Open(k, v)
	if err != nil {
		return err
	}
	return record.DecodeLog(content, fn)
}
