package store

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"slices"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// shelfState is what is remembered of the shelves while they are written to,
// so that their bounds need no counting each time. Nil means not counted yet.
type shelfState struct {
	refused        []refusedAt
	refusedRead    bool
	unclaimedBytes *int
	asides         map[string]int // by asidePrefix
}

// shelve writes what in a batch is not a reading, and the conflicts.
func (t *txn) shelve(b aquarium.Batch, fates []fate) error {
	if err := t.shelveConflicts(b, fates); err != nil {
		return err
	}
	if err := t.shelveAside(b.Aside); err != nil {
		return err
	}
	if err := t.shelveUnclaimed(b); err != nil {
		return err
	}
	return t.shelveRefused(b.Refused)
}

func sequenceKey(n uint64) []byte { return binary.BigEndian.AppendUint64(nil, n) }

// push seals content under the bucket's next number and gives the key.
func push(b changing, prefix, content []byte) (key []byte, err error) {
	n, err := b.NextSequence()
	if err != nil {
		return nil, err
	}
	key = append(slices.Clone(prefix), sequenceKey(n)...)
	return key, b.Put(key, record.Seal(nil, key, content))
}

func (t *txn) shelveConflicts(b aquarium.Batch, fates []fate) error {
	bucket := t.bucket(conflictsBucket)
	n := 0
	for i, f := range fates {
		if f.what != conflict {
			continue
		}
		n++
		c := record.Conflict{Stands: f.stands, Other: b.Readings[i], Arrived: b.Arrived}
		if _, err := push(bucket, nil, record.EncodeConflict(c)); err != nil {
			return err
		}
	}
	if n == 0 || bucket.Sequence() <= record.ConflictsAll {
		return nil
	}
	return deleteBelow(bucket, sequenceKey(bucket.Sequence()-record.ConflictsAll+1))
}

// deleteBelow drops the keys before end. A cursor must not go on after it has
// deleted, so the keys are gathered first.
func deleteBelow(b changing, end []byte) error {
	var keys [][]byte
	c := b.Cursor()
	for k, _ := c.First(); k != nil && string(k) < string(end); k, _ = c.Next() {
		keys = append(keys, slices.Clone(k))
	}
	return deleteAll(b, keys)
}

func deleteAll(b changing, keys [][]byte) error {
	for _, k := range keys {
		if err := b.Delete(k); err != nil {
			return err
		}
	}
	return nil
}

// deleteFirst deletes the first keys of a bucket, for who goes on until none are
// left: a bent page can hide them from being deleted, and that would never end.
func deleteFirst(b changing, keys [][]byte) error {
	if err := deleteAll(b, keys); err != nil || len(keys) == 0 {
		return err
	}
	if k, _ := b.Cursor().First(); bytes.Equal(k, keys[0]) {
		return b.damaged(keys[0], errors.New("it is there and cannot be deleted: a page above it is bent"))
	}
	return nil
}

// Conflicts lists the last readings that met another value, newest first, at
// most limit; record.ConflictsAll are kept.
func (s *Store) Conflicts(limit int) []record.Conflict {
	return lastOf(s, conflictsBucket, limit, record.DecodeConflict)
}

// lastOf decodes a shelf from its end. What cannot be read is passed over and
// logged: these lists are for people, and Check tells all.
func lastOf[T any](s *Store, bucket []byte, limit int, decode func([]byte) (T, error)) []T {
	var list []T
	s.inspect(bucket, func(b *bbolt.Bucket) {
		c := b.Cursor()
		for k, v := c.Last(); k != nil && len(list) < limit; k, v = c.Prev() {
			if x, ok := unseal(s, bucket, k, v, decode); ok {
				list = append(list, x)
			}
		}
	})
	return list
}

func unseal[T any](s *Store, bucket, k, v []byte, decode func([]byte) (T, error)) (x T, ok bool) {
	content, err := record.Open(k, v)
	if err == nil {
		x, err = decode(content)
	}
	if err != nil {
		s.opt.Log.Error("a kept record cannot be read", "err", &Damage{File: s.path, Bucket: string(bucket), Key: slices.Clone(k), Err: err})
	}
	return x, err == nil
}

func (s *Store) inspect(bucket []byte, fn func(b *bbolt.Bucket)) {
	err := s.read(func(tx *bbolt.Tx) error {
		fn(tx.Bucket(bucket))
		return nil
	})
	if err != nil {
		s.opt.Log.Error("kept records cannot be read", "err", err)
	}
}

// browse goes through kept records in steps, until fn returns false.
func (s *Store) browse(bucket, from []byte, fn func(k, v []byte) bool) {
	err := s.walk(context.Background(), source{bucket: string(bucket)}, from, func(k, v []byte) error {
		if !fn(k, v) {
			return errEnough
		}
		return nil
	}, nil)
	if err != nil && !errors.Is(err, errEnough) {
		s.opt.Log.Error("kept records cannot be read", "err", err)
	}
}

// errEnough ends a walk.
var errEnough = errors.New("enough")
