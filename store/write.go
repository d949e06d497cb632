package store

import (
	"errors"
	"fmt"
	"time"

	bolt "go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
	"lentic/store/record"
)

// Append keeps a batch: all of it is on disk when it returns nil, and nothing
// of it when it fails. For a (sensor, time) already there the first value
// stands. hook, where not nil, writes documents in the same transaction; its
// error undoes the batch and is returned. ErrDisk is final.
func (s *Store) Append(b aquarium.Batch, hook func(tx ledger.Tx, o aquarium.Outcome) error) (aquarium.Outcome, error) {
	return s.write(b, false, hook, nil)
}

// Replace is Append, but a different value takes the place of the one there;
// it is counted as a conflict all the same.
func (s *Store) Replace(b aquarium.Batch, hook func(tx ledger.Tx, o aquarium.Outcome) error) (aquarium.Outcome, error) {
	return s.write(b, true, hook, nil)
}

// Bulk lets fn add many batches with one sync at the end: for loading a
// history into a store that nobody relies on yet. Nothing of it is certain to
// be on disk before Bulk has returned nil.
func (s *Store) Bulk(fn func(add func(aquarium.Batch) error) error) error {
	s.db.NoSync = true
	err := fn(func(b aquarium.Batch) error {
		_, err := s.Append(b, nil)
		return err
	})
	s.db.NoSync = false
	s.writing.Lock()
	defer s.writing.Unlock()
	if syncErr := s.db.Sync(); syncErr != nil {
		s.broken = fmt.Errorf("sync %s: %w: %w", s.path, ErrDisk, syncErr)
		err = errors.Join(err, s.broken)
	}
	return err
}

// write keeps a batch and, in the same transaction, what hook and also write.
func (s *Store) write(b aquarium.Batch, replace bool, hook func(tx ledger.Tx, o aquarium.Outcome) error, also func(*bolt.Tx) error) (aquarium.Outcome, error) {
	var out aquarium.Outcome
	m := merger{s: s, replace: replace, arrived: b.Arrived}
	err := s.transact(fmt.Sprintf("append %d readings", len(b.Readings)), func(tx *bolt.Tx) (err error) {
		if out, err = m.merge(tx, b.Readings); err != nil {
			return err
		}
		if err := s.shelve(tx, b, m.conflicts); err != nil {
			return err
		}
		if also != nil {
			if err := also(tx); err != nil {
				return err
			}
		}
		if hook != nil {
			return hook(&docs{tx: tx, write: true, path: s.path}, out)
		}
		return nil
	}, m.settle)
	if err != nil {
		return aquarium.Outcome{}, err
	}
	return out, nil
}

// transact runs one writing transaction. What fn fails with undoes it and
// leaves the store well; what the commit fails with is final.
func (s *Store) transact(doing string, fn func(*bolt.Tx) error, committed func()) error {
	s.writing.Lock()
	defer s.writing.Unlock()
	if s.broken != nil {
		return s.broken
	}
	return guarded(s.path, doing, func() error {
		tx, err := s.db.Begin(true)
		if err != nil {
			return fmt.Errorf("%s: %s: %w: %w", doing, s.path, ErrDisk, err)
		}
		defer tx.Rollback() // after a commit it does nothing
		if err := fn(tx); err != nil {
			return err
		}
		if err := tx.Commit(); err != nil {
			s.broken = fmt.Errorf("%s: %s: %w: %w", doing, s.path, ErrDisk, err)
			return s.broken
		}
		if committed != nil {
			committed()
		}
		return nil
	})
}

// Update runs fn and commits the documents it wrote.
func (s *Store) Update(fn func(tx ledger.Tx) error) error {
	return s.transact("write documents", func(tx *bolt.Tx) error {
		return fn(&docs{tx: tx, write: true, path: s.path})
	}, nil)
}

// ReleaseAside moves what a gateway of a site had set aside into the readings,
// each offset later than it claimed and marked Retimed. Records whose time
// would still be impossible stay where they are.
func (s *Store) ReleaseAside(site aquarium.SiteID, g aquarium.GatewayID, offset time.Duration, hook func(tx ledger.Tx, o aquarium.Outcome) error) (aquarium.Outcome, error) {
	b := aquarium.Batch{Arrived: aquarium.At(s.o.Now())}
	var keys [][]byte
	err := s.eachAside(func(key []byte, a aquarium.Aside) {
		r := a.Reading
		r.At, r.Retimed = r.At.Add(offset), true
		if r.Sensor.Site == site && a.Gateway == g && record.Plausible(r.At, b.Arrived) {
			b.Readings = append(b.Readings, r)
			keys = append(keys, key)
		}
	})
	if err != nil {
		return aquarium.Outcome{}, err
	}
	return s.write(b, false, hook, func(tx *bolt.Tx) error { return deleteAll(tx.Bucket(bucketAside), keys) })
}

func deleteAll(b *bolt.Bucket, keys [][]byte) error {
	for _, k := range keys {
		if err := b.Delete(k); err != nil {
			return err
		}
	}
	return nil
}
