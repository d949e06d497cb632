package store

import (
	"bytes"
	"errors"
	"fmt"
	"slices"

	bolt "go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// blocksAtOnce bounds a reading transaction: it is closed before the caller
// sees what it read, because one that stays open keeps old pages from being
// used again and the file growing.
const blocksAtOnce = 256

// Window calls fn for the readings of k with from <= At < to, oldest first,
// until it returns false; none is not an error. A damaged block is an
// ErrDamaged that names it, returned after everything else has been read.
func (s *Store) Window(k aquarium.SensorKey, from, to aquarium.Instant, fn func(aquarium.Reading) bool) error {
	s.mu.RLock()
	n, ok := s.series[k]
	s.mu.RUnlock()
	if !ok {
		return nil
	}
	var damage error
	start := s.blockBefore(n, from)
	for start != nil {
		rs, next, err := s.blocks(k, n, start, to)
		damage = errors.Join(damage, err)
		for _, r := range rs {
			if r.At >= from && r.At < to && !fn(r) {
				return damage
			}
		}
		// What has been told stays told, even if a block was split
		// meanwhile.
		if len(rs) > 0 {
			from = max(from, rs[len(rs)-1].At+1)
		}
		start = next
	}
	return damage
}

// blockBefore is the key of the block in which a window from there begins, nil
// where the series has none.
func (s *Store) blockBefore(n uint32, from aquarium.Instant) (key []byte) {
	s.view("find readings", func(tx *bolt.Tx) error {
		c := tx.Bucket(bucketReadings).Cursor()
		at, _ := c.Seek(record.Key(n, from))
		if begins(at, n) != nil && bytes.Equal(at, record.Key(n, from)) {
			key = bytes.Clone(at)
			return nil
		}
		before, _ := c.Prev()
		if at == nil {
			before, _ = c.Last()
		}
		switch {
		case begins(before, n) != nil:
			key = bytes.Clone(before)
		case begins(at, n) != nil:
			key = bytes.Clone(at)
		}
		return nil
	})
	return key
}

// blocks reads some blocks from start on and says where to go on.
func (s *Store) blocks(k aquarium.SensorKey, n uint32, start []byte, to aquarium.Instant) (rs []aquarium.Reading, next []byte, damage error) {
	err := s.view("read "+k.String(), func(tx *bolt.Tx) error {
		c := tx.Bucket(bucketReadings).Cursor()
		count := 0
		for key, value := c.Seek(start); key != nil; key, value = c.Next() {
			at := begins(key, n)
			if at == nil || *at >= to {
				return nil
			}
			if count++; count > blocksAtOnce {
				next = bytes.Clone(key)
				return nil
			}
			var err error
			if rs, err = record.DecodeBlock(rs, k, key, value); err != nil {
				damage = errors.Join(damage, s.damaged(k, key, err))
			}
		}
		return nil
	})
	return rs, next, errors.Join(damage, err)
}

// damaged names a block that cannot be read.
func (s *Store) damaged(k aquarium.SensorKey, key []byte, err error) error {
	_, at, _ := record.SplitKey(key)
	return fmt.Errorf("%s: bucket readings: key %x (%s from %s): %w: %w", s.path, key, k, at, ErrDamaged, err)
}

func (s *Store) view(doing string, fn func(*bolt.Tx) error) error {
	return guarded(s.path, doing, func() error {
		err := s.db.View(fn)
		if err != nil && !errors.Is(err, ErrDamaged) {
			return fmt.Errorf("%s: %s: %w", doing, s.path, err)
		}
		return err
	})
}

// Sensors lists the sensors with readings, in their order.
func (s *Store) Sensors() []aquarium.SensorKey {
	s.mu.RLock()
	defer s.mu.RUnlock()
	ks := make([]aquarium.SensorKey, 0, len(s.series))
	for k := range s.series {
		ks = append(ks, k)
	}
	slices.SortFunc(ks, record.Compare)
	return ks
}

// Latest is the newest reading of the sensor; false: there is none that can be
// read.
func (s *Store) Latest(k aquarium.SensorKey) (aquarium.Reading, bool) {
	e, ok := s.edgesOf(k)
	return e.last, ok
}

// First is the oldest reading of the sensor.
func (s *Store) First(k aquarium.SensorKey) (aquarium.Reading, bool) {
	e, ok := s.edgesOf(k)
	return e.first, ok
}

func (s *Store) edgesOf(k aquarium.SensorKey) (edges, bool) {
	s.mu.RLock()
	e, known := s.edges[k]
	n, ok := s.series[k]
	s.mu.RUnlock()
	if known || !ok {
		return e, known
	}
	// Held while looking, so that a commit cannot slip in between the look
	// and its note.
	s.mu.Lock()
	defer s.mu.Unlock()
	if e, known = s.edges[k]; known {
		return e, true
	}
	found := false
	s.view("find the newest of "+k.String(), func(tx *bolt.Tx) error {
		c := tx.Bucket(bucketReadings).Cursor()
		key, value := c.Seek(record.Key(n, -1<<63))
		if begins(key, n) == nil {
			return nil
		}
		first, err := record.DecodeBlock(nil, k, key, value)
		if err != nil {
			return nil
		}
		at, _ := c.Seek(record.Key(n+1, -1<<63))
		key, value = c.Prev()
		if at == nil {
			key, value = c.Last()
		}
		if begins(key, n) == nil {
			return nil
		}
		last, err := record.DecodeBlock(nil, k, key, value)
		if err != nil {
			return nil
		}
		e, found = edges{first[0], last[len(last)-1]}, true
		return nil
	})
	if found {
		s.edges[k] = e
	}
	return e, found
}
