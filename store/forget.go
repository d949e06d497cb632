package store

import (
	"maps"
	"slices"
	"time"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// forgotten bounds how many bytes of sums one transaction deletes, so that
// the list of free pages stays short: what one block sealed takes up, or two.
const forgotten = 256 << 10

// horizon is the time before which nothing is kept that is kept for so long.
func (s *Store) horizon(keep time.Duration) aquarium.Instant {
	if keep < 0 {
		return never
	}
	return aquarium.At(s.opt.Now()).Add(-keep)
}

// forget deletes blocks whose readings are older than they are to be kept, and
// leaves their sums by the minute; then such sums that are too old as well.
func (s *Store) forget() (more bool, err error) {
	more, err = s.forgetBlocks()
	if more || err != nil {
		return more, err
	}
	return s.forgetMinutes()
}

func (s *Store) forgetBlocks() (more bool, err error) {
	// What is being imported comes in any order, and what has come of a
	// stretch must be there for the rest to be told from it.
	if s.imports.Load() > 0 {
		return false, nil
	}
	horizon := s.horizon(s.opt.Keep)
	// What the log still has of a block would be taken for new at the next
	// start, once the block is not there to say otherwise.
	logged, _, any := s.logged()
	waits := false
	var keys [][]byte
	remains := map[string][]byte{}
	err = s.read(func(tx *bbolt.Tx) error {
		c := tx.Bucket(blocksBucket).Cursor()
		// As many as were sealed together: the pages that they share then
		// become free, and the others are left as they are.
		for k, v := c.First(); k != nil && len(keys) < together; k, v = c.Next() {
			start, _, err := record.SplitBlockKey(k)
			if err != nil || start.Add(stretch) > horizon {
				break
			}
			if b, err := record.OpenBlock(k, v); err == nil && any && b.Through >= logged {
				waits = true
				break
			}
			keys = append(keys, slices.Clone(k))
			maps.Copy(remains, s.remains(k, v))
		}
		return nil
	})
	if err == nil && len(keys) == 0 && waits && s.trimmable(0) {
		return s.trimSome()
	}
	if err != nil || len(keys) == 0 {
		return false, err
	}
	// Sealing and forgetting are done by one at a time, so the blocks are as
	// they were read.
	err = s.write(func(t *txn) error {
		for _, k := range slices.Sorted(maps.Keys(remains)) {
			if err := t.bucket(rollupsBucket).Put([]byte(k), remains[k]); err != nil {
				return err
			}
		}
		t.after = append(t.after, func() {
			s.log.forgets = true
			for _, k := range keys {
				s.catalogue.forget(k)
			}
		})
		gone := slices.Clone(keys)
		for n := range endMarks { // of the last there is
			gone = append(gone, endMark(keys[len(keys)-1], n))
		}
		return deleteFirst(t.bucket(blocksBucket), gone)
	})
	return err == nil, err
}

// forget lets the latest readings be looked up anew that were in a block.
func (c *catalogue) forget(block []byte) {
	start, group, err := record.SplitBlockKey(block)
	if err != nil {
		return
	}
	for _, x := range c.series {
		if x.group.number == group && x.latest.At >= start && x.latest.At < start.Add(stretch) {
			x.latest, x.known = aquarium.Reading{}, false
		}
	}
}

// remains are the sums by the minute of a block.
func (s *Store) remains(key, value []byte) map[string][]byte {
	start, group, err := record.SplitBlockKey(key)
	if err != nil || start.Add(stretch) <= s.horizon(s.opt.KeepMinutes) {
		return nil
	}
	b, err := record.OpenBlock(key, value)
	if err != nil {
		s.opt.Log.Error("a damaged block is forgotten without its sums by the minute", "err", err)
		return nil
	}
	var rs []record.Rollup
	for _, p := range b.Columns {
		c, err := b.Column(p, record.Column{})
		if err != nil {
			s.opt.Log.Error("damaged readings are forgotten without their sums by the minute", "err", err)
			continue
		}
		rs = append(rs, record.Rollup{Series: c.Series, Unit: c.Unit, Rows: record.Fold(nil, minutes.step.Milliseconds(), c.Times, c.Values, s.goodOf(c))})
	}
	if len(rs) == 0 {
		return nil
	}
	k := minutes.key(start, group)
	return map[string][]byte{string(k): record.EncodeRollups(k, minutes.step.Milliseconds(), rs)}
}

func (s *Store) forgetMinutes() (more bool, err error) {
	horizon := s.horizon(s.opt.KeepMinutes)
	var keys [][]byte
	err = s.read(func(tx *bbolt.Tx) error {
		bytes := 0
		c := tx.Bucket(rollupsBucket).Cursor()
		for k, v := c.First(); k != nil && k[0] == minutes.number && bytes < forgotten; k, v = c.Next() {
			start, _, err := record.SplitBlockKey(k[1:])
			if err != nil || start.Add(minutes.span) > horizon {
				break
			}
			keys = append(keys, slices.Clone(k))
			bytes += len(v)
		}
		return nil
	})
	if err != nil || len(keys) == 0 {
		return false, err
	}
	err = s.write(func(t *txn) error { return deleteFirst(t.bucket(rollupsBucket), keys) })
	return err == nil, err
}
