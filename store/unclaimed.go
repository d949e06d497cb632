package store

import (
	"context"
	"errors"
	"maps"
	"slices"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// shelveUnclaimed keeps messages that no sensor has, for record.UnclaimedFor
// and at most record.UnclaimedBytes of them.
func (t *txn) shelveUnclaimed(b aquarium.Batch) error {
	if len(b.Unclaimed) == 0 {
		return nil
	}
	bucket := t.bucket(unclaimedBucket)
	size := t.unclaimedSize(bucket.Bucket)
	for _, u := range b.Unclaimed {
		if _, err := push(bucket, nil, record.EncodeUnclaimed(u)); err != nil {
			return err
		}
		*size += len(u.Topic) + len(u.Payload)
	}
	var drop [][]byte
	c := bucket.Cursor()
	for k, v := c.First(); k != nil; k, v = c.Next() {
		u, ok := unseal(t.s, unclaimedBucket, k, v, record.DecodeUnclaimed)
		if ok && *size <= record.UnclaimedBytes && u.Arrived >= b.Arrived.Add(-record.UnclaimedFor) {
			break
		}
		*size -= len(u.Topic) + len(u.Payload)
		drop = append(drop, slices.Clone(k))
	}
	return deleteAll(bucket, drop)
}

// unclaimedSize counts topics and payloads, the first time by looking.
func (t *txn) unclaimedSize(b *bbolt.Bucket) *int {
	st := &t.s.shelf
	if st.unclaimedBytes != nil {
		return st.unclaimedBytes
	}
	st.unclaimedBytes = new(int)
	c := b.Cursor()
	for k, v := c.First(); k != nil; k, v = c.Next() {
		if u, ok := unseal(t.s, unclaimedBucket, k, v, record.DecodeUnclaimed); ok {
			*st.unclaimedBytes += len(u.Topic) + len(u.Payload)
		}
	}
	return st.unclaimedBytes
}

// UnclaimedTopics sums up what is kept for topics that no sensor has, by
// topic in the order of their names.
func (s *Store) UnclaimedTopics() []record.Topic {
	by := map[string]*record.Topic{}
	s.browse(unclaimedBucket, nil, func(k, v []byte) bool {
		if u, ok := unseal(s, unclaimedBucket, k, v, record.DecodeUnclaimed); ok {
			record.Sum(by, u)
		}
		return true
	})
	var ts []record.Topic
	for _, name := range slices.Sorted(maps.Keys(by)) {
		ts = append(ts, *by[name])
	}
	return ts
}

// Taken at once: messages and bytes handed to fn in one call.
const (
	takeMessages = 1000
	takeBytes    = 4 << 20
)

// TakeUnclaimed hands the messages of those topics to fn, oldest first and
// some thousand at a time, and forgets each lot once fn has returned nil for
// it. fn is called outside of any transaction and may Append what it decodes.
//
// After a crash between fn and the forgetting a lot is handed over again, so
// fn must make the same of a message twice; appending its readings does, for a
// message keeps its time of arrival. It returns how many were taken; an error
// is fn's, or the store's.
func (s *Store) TakeUnclaimed(topics []string, fn func([]aquarium.Unclaimed) error) (int, error) {
	wanted := map[string]bool{}
	for _, t := range topics {
		wanted[t] = true
	}
	taken := 0
	var after []byte
	for {
		keys, lot, seen, err := s.unclaimedLot(wanted, after)
		if err != nil || len(lot) == 0 {
			return taken, err
		}
		if err := fn(lot); err != nil {
			return taken, err
		}
		if err := s.forgetUnclaimed(keys, lot); err != nil {
			return taken, err
		}
		taken += len(lot)
		after = seen
	}
}

func (s *Store) unclaimedLot(wanted map[string]bool, after []byte) (keys [][]byte, lot []aquarium.Unclaimed, seen []byte, err error) {
	size := 0
	err = s.walk(context.Background(), source{bucket: string(unclaimedBucket)}, after, func(k, v []byte) error {
		if len(lot) == takeMessages || size > takeBytes {
			return errEnough
		}
		u, ok := unseal(s, unclaimedBucket, k, v, record.DecodeUnclaimed)
		if ok && wanted[u.Topic] {
			keys, lot = append(keys, slices.Clone(k)), append(lot, u)
			size += len(u.Payload)
		}
		seen = slices.Clone(k)
		return nil
	}, nil)
	if errors.Is(err, errEnough) {
		err = nil
	}
	return keys, lot, seen, err
}

func (s *Store) forgetUnclaimed(keys [][]byte, lot []aquarium.Unclaimed) error {
	return s.write(func(t *txn) error {
		b := t.bucket(unclaimedBucket)
		size := t.unclaimedSize(b.Bucket)
		for i, k := range keys {
			if b.Get(k) == nil { // trimmed meanwhile
				continue
			}
			if err := b.Delete(k); err != nil {
				return err
			}
			*size -= len(lot[i].Topic) + len(lot[i].Payload)
		}
		return nil
	})
}
