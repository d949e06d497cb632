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
	r := replaying{s: s, through: map[blockKey]uint64{}, now: aquarium.At(s.opt.Now())}
	return s.walk(context.Background(), source{bucket: string(logBucket)}, nil, func(k, v []byte) error {
		if err := r.record(k, v); err != nil {
			d := &Damage{File: s.path, Bucket: string(logBucket), Key: slices.Clone(k), Err: err}
			s.opt.Log.Error("a log record is lost: readings of one commit", "err", d)
		}
		return nil
	}, nil)
}

// replaying is one call of replay.
type replaying struct {
	s       *Store
	now     aquarium.Instant
	through map[blockKey]uint64 // the last log record that is in a block
	// last is the block that the last reading belongs into, and sealed its
	// through: most readings follow one of their own tank.
	last   blockKey
	group  *group
	sealed uint64
	known  [1024]*series // by the last bits of their number
	stands standing      // of the record at hand, in memory that is used again
}

// blockKey is a block by its group.
type blockKey struct {
	group uint32
	start aquarium.Instant
}

// record takes what is pending of a log record, all of it or nothing.
func (r *replaying) record(k, v []byte) error {
	seq, err := record.SplitLogKey(k)
	if err != nil {
		return err
	}
	r.stands.reset()
	err = decodeLog(k, v, func(l record.Logged) {
		x := r.known[l.Series%uint32(len(r.known))]
		if x == nil || x.number != l.Series {
			x = r.s.catalogue.byNumber[l.Series]
			r.known[l.Series%uint32(len(r.known))] = x
		}
		if x != nil && r.sealedThrough(x, l.At) < seq {
			r.stands.add(x, l)
		}
	})
	if err != nil {
		return err
	}
	r.s.catalogue.take(&landed{standing: r.stands, first: seq, last: seq, at: r.now})
	return nil
}

// sealedThrough is the last log record that is in the block for that time.
func (r *replaying) sealedThrough(x *series, at aquarium.Instant) uint64 {
	if x.group == r.group && at >= r.last.start && at < r.last.start.Add(stretch) {
		return r.sealed
	}
	k := blockKey{x.group.number, stretchOf(x.group.number, at)}
	seq, ok := r.through[k]
	if !ok {
		seq = r.s.sealedThrough(record.BlockKey(k.start, k.group))
		r.through[k] = seq
	}
	r.last, r.group, r.sealed = k, x.group, seq
	return seq
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
