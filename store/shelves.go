package store

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	bolt "go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// What is not a reading is kept in the order it came, under rising numbers,
// and within bounds: the oldest goes first.

// shelve puts away what of a batch is not readings.
func (s *Store) shelve(tx *bolt.Tx, b aquarium.Batch, conflicts []record.Conflict) error {
	for _, a := range b.Aside {
		if err := push(tx.Bucket(bucketAside), record.EncodeAside(a)); err != nil {
			return err
		}
	}
	for _, u := range b.Unclaimed {
		if err := push(tx.Bucket(bucketUnclaimed), record.EncodeUnclaimed(u)); err != nil {
			return err
		}
	}
	for _, r := range b.Refused {
		if err := push(tx.Bucket(bucketRefused), record.EncodeRefusal(r)); err != nil {
			return err
		}
	}
	for _, c := range conflicts {
		if err := push(tx.Bucket(bucketConflicts), record.EncodeConflict(c)); err != nil {
			return err
		}
	}
	if len(b.Refused) > 0 {
		if err := s.trimRefused(tx); err != nil {
			return err
		}
	}
	if len(b.Unclaimed) > 0 {
		if err := s.trimUnclaimed(tx, b.Arrived); err != nil {
			return err
		}
	}
	if len(b.Aside) > 0 {
		if err := s.trimAside(tx); err != nil {
			return err
		}
	}
	if len(conflicts) > 0 {
		return trimOldest(tx.Bucket(bucketConflicts), record.ConflictsAll)
	}
	return nil
}

func push(b *bolt.Bucket, content []byte) error {
	n, err := b.NextSequence()
	if err != nil {
		return err
	}
	key := binary.BigEndian.AppendUint64(nil, n)
	return b.Put(key, record.Seal(nil, key, content))
}

// trimOldest leaves the newest n.
func trimOldest(b *bolt.Bucket, n int) error {
	var keys [][]byte
	c := b.Cursor()
	for k, _ := c.Last(); k != nil; k, _ = c.Prev() {
		if n--; n < 0 {
			keys = append(keys, bytes.Clone(k))
		}
	}
	return deleteAll(b, keys)
}

// trimRefused leaves the newest of each reason and source, and of all.
func (s *Store) trimRefused(tx *bolt.Tx) error {
	type group struct {
		reason aquarium.Reason
		source string
	}
	seen, kept := map[group]int{}, 0
	var gone [][]byte
	b := tx.Bucket(bucketRefused)
	c := b.Cursor()
	for k, v := c.Last(); k != nil; k, v = c.Prev() {
		r, err := opened(k, v, record.DecodeRefusal)
		g := group{r.Reason, r.Source}
		seen[g]++
		if err != nil || seen[g] > record.RefusedEach || kept >= record.RefusedAll {
			gone = append(gone, bytes.Clone(k))
			continue
		}
		kept++
	}
	return deleteAll(b, gone)
}

func (s *Store) trimUnclaimed(tx *bolt.Tx, now aquarium.Instant) error {
	b := tx.Bucket(bucketUnclaimed)
	size := 0
	c := b.Cursor()
	for k, v := c.First(); k != nil; k, v = c.Next() {
		size += len(v)
	}
	var gone [][]byte
	for k, v := c.First(); k != nil; k, v = c.Next() {
		u, err := opened(k, v, record.DecodeUnclaimed)
		if err == nil && size <= record.UnclaimedBytes && u.Arrived >= now.Add(-record.UnclaimedFor) {
			break
		}
		size -= len(v)
		gone = append(gone, bytes.Clone(k))
	}
	return deleteAll(b, gone)
}

func (s *Store) trimAside(tx *bolt.Tx) error {
	b := tx.Bucket(bucketAside)
	if b.Stats().KeyN <= record.AsideEach { // no gateway can have more than all have
		return nil
	}
	seen := map[record.SetAside]int{}
	var gone [][]byte
	c := b.Cursor()
	for k, v := c.Last(); k != nil; k, v = c.Prev() {
		a, err := opened(k, v, record.DecodeAside)
		g := record.SetAside{Site: a.Reading.Sensor.Site, Gateway: a.Gateway}
		if seen[g]++; err != nil || seen[g] > record.AsideEach {
			gone = append(gone, bytes.Clone(k))
		}
	}
	return deleteAll(b, gone)
}

func opened[T any](key, value []byte, decode func([]byte) (T, error)) (T, error) {
	content, err := record.Open(key, value)
	if err != nil {
		var none T
		return none, err
	}
	return decode(content)
}

// newest lists the newest of a bucket; what is damaged is logged and left out.
func newest[T any](s *Store, bucket []byte, limit int, decode func([]byte) (T, error)) []T {
	var ts []T
	s.logged(s.view("read "+string(bucket), func(tx *bolt.Tx) error {
		c := tx.Bucket(bucket).Cursor()
		for k, v := c.Last(); k != nil && len(ts) < limit; k, v = c.Prev() {
			t, err := opened(k, v, decode)
			if err != nil {
				s.logged(s.damagedIn(bucket, k, err))
				continue
			}
			ts = append(ts, t)
		}
		return nil
	}))
	return ts
}

func (s *Store) damagedIn(bucket, key []byte, err error) error {
	return fmt.Errorf("%s: bucket %s: key %x: %w: %w", s.path, bucket, key, ErrDamaged, err)
}

func (s *Store) logged(err error) {
	if err != nil {
		s.o.Log.Error("store", "err", err)
	}
}

// Refused lists the last refusals, newest first.
func (s *Store) Refused(limit int) []aquarium.Refusal {
	return newest(s, bucketRefused, limit, record.DecodeRefusal)
}

// Conflicts lists the last readings that met another value, newest first.
func (s *Store) Conflicts(limit int) []record.Conflict {
	return newest(s, bucketConflicts, limit, record.DecodeConflict)
}

// each calls fn for all of a bucket, oldest first.
func each[T any](s *Store, bucket []byte, decode func([]byte) (T, error), fn func(key []byte, t T)) error {
	var damage error
	err := s.view("read "+string(bucket), func(tx *bolt.Tx) error {
		return tx.Bucket(bucket).ForEach(func(k, v []byte) error {
			t, err := opened(k, v, decode)
			if err != nil {
				damage = errors.Join(damage, s.damagedIn(bucket, k, err))
				return nil
			}
			fn(bytes.Clone(k), t)
			return nil
		})
	})
	return errors.Join(damage, err)
}

// UnclaimedTopics sums up what is kept for topics that no sensor has, by name.
func (s *Store) UnclaimedTopics() []record.Topic {
	by := map[string]*record.Topic{}
	s.logged(each(s, bucketUnclaimed, record.DecodeUnclaimed, func(_ []byte, u aquarium.Unclaimed) { record.Sum(by, u) }))
	ts := make([]record.Topic, 0, len(by))
	for _, name := range slices.Sorted(maps.Keys(by)) {
		ts = append(ts, *by[name])
	}
	return ts
}

// TakeUnclaimed hands the messages of those topics over, oldest first, and
// forgets them once fn has returned nil. A crash in between hands them over
// again: the first value of a reading stands, so that doing it twice is
// harmless. fn may write to the store.
func (s *Store) TakeUnclaimed(topics []string, fn func([]aquarium.Unclaimed) error) (int, error) {
	var taken []aquarium.Unclaimed
	var keys [][]byte
	err := each(s, bucketUnclaimed, record.DecodeUnclaimed, func(k []byte, u aquarium.Unclaimed) {
		if slices.Contains(topics, u.Topic) {
			taken, keys = append(taken, u), append(keys, k)
		}
	})
	if err != nil || len(taken) == 0 {
		return 0, err
	}
	if err := fn(taken); err != nil {
		return 0, err
	}
	err = s.transact("forget adopted messages", func(tx *bolt.Tx) error { return deleteAll(tx.Bucket(bucketUnclaimed), keys) }, nil)
	if err != nil {
		return 0, err
	}
	return len(taken), nil
}

func (s *Store) eachAside(fn func(key []byte, a aquarium.Aside)) error {
	return each(s, bucketAside, record.DecodeAside, fn)
}

// SetAside sums up what waits for an offset, by site and gateway.
func (s *Store) SetAside() []record.SetAside {
	by := map[record.SetAside]*record.SetAside{}
	s.logged(s.eachAside(func(_ []byte, a aquarium.Aside) {
		g := record.SetAside{Site: a.Reading.Sensor.Site, Gateway: a.Gateway}
		if by[g] == nil {
			sum := g
			by[g] = &sum
		}
		by[g].Records++
		by[g].Claimed, by[g].Arrived = a.Reading.At, a.Arrived
	}))
	ss := make([]record.SetAside, 0, len(by))
	for _, sum := range by {
		ss = append(ss, *sum)
	}
	slices.SortFunc(ss, func(a, b record.SetAside) int {
		if c := strings.Compare(string(a.Site), string(b.Site)); c != 0 {
			return c
		}
		return strings.Compare(string(a.Gateway), string(b.Gateway))
	})
	return ss
}

// Asides lists what waits for an offset at a site, by gateway and arrival.
func (s *Store) Asides(site aquarium.SiteID) []aquarium.Aside {
	var as []aquarium.Aside
	s.logged(s.eachAside(func(_ []byte, a aquarium.Aside) {
		if a.Reading.Sensor.Site == site {
			as = append(as, a)
		}
	}))
	slices.SortStableFunc(as, func(a, b aquarium.Aside) int { return strings.Compare(string(a.Gateway), string(b.Gateway)) })
	return as
}
