package store

import (
	"errors"
	"fmt"
	"slices"

	"go.etcd.io/bbolt"
	berrors "go.etcd.io/bbolt/errors"

	"lentic/store/record"
)

// txn is one write transaction, and what becomes true in memory once it is on
// disk.
type txn struct {
	s       *Store
	bolt    *bbolt.Tx
	foreign bool      // a caller's function runs: its panics are its own
	made    catalogue // series that are new; its maps are nil while there are none
	decoded map[place][]record.Column
	room    record.Column // to decode into what is not kept
	number  uint64        // counts transactions, those that failed too
	// firstSeq and lastSeq are the log records that it wrote, 0: none.
	firstSeq, lastSeq uint64
	stands            standing // what it stores
	rising            bool     // each comes after all others of its series
	// after becomes true with the commit.
	after []func()
	pages mapped // as they were when it began
}

// changing is a bucket, or a shelf, in a write transaction. What it changes is
// noted for the copies that are being made, and the pages are looked at first.
type changing struct {
	*bbolt.Bucket
	t  *txn
	at source
}

func (t *txn) bucket(name []byte) changing {
	return changing{t.bolt.Bucket(name), t, source{bucket: string(name)}}
}

// shelf is a shelf of the ledger, made where there is none.
func (t *txn) shelf(name string) (changing, error) {
	if err := t.touch(source{bucket: string(ledgerBucket)}, []byte(name), false); err != nil {
		return changing{}, err
	}
	b, err := t.bolt.Bucket(ledgerBucket).CreateBucketIfNotExists([]byte(name))
	return changing{b, t, source{string(ledgerBucket), name}}, noBucket(t.s.path, string(ledgerBucket), []byte(name), err)
}

func (b changing) Put(k, v []byte) error {
	if err := b.t.touch(b.at, k, false); err != nil {
		return err
	}
	b.t.changes(b.at, k)
	return b.refused(k, b.Bucket.Put(k, v))
}

func (b changing) Delete(k []byte) error {
	if err := b.t.touch(b.at, k, true); err != nil {
		return err
	}
	b.t.changes(b.at, k)
	return b.refused(k, b.Bucket.Delete(k))
}

func (b changing) NextSequence() (uint64, error) {
	if err := b.t.touch(b.at, nil, false); err != nil {
		return 0, err
	}
	return b.Bucket.NextSequence()
}

func (b changing) SetSequence(n uint64) error {
	if err := b.t.touch(b.at, nil, false); err != nil {
		return err
	}
	return b.Bucket.SetSequence(n)
}

func (b changing) refused(k []byte, err error) error {
	return noBucket(b.t.s.path, b.at.String(), k, err)
}

// noBucket makes damage of what bbolt takes for a bucket where lentic has a value, or
// for a value where it has a bucket.
func noBucket(path, bucket string, k []byte, err error) error {
	if errors.Is(err, berrors.ErrIncompatibleValue) {
		return &Damage{File: path, Bucket: bucket, Key: slices.Clone(k), Err: fmt.Errorf("a bucket for a value, or the other way round: %w", err)}
	}
	return err
}

func (b changing) damaged(k []byte, err error) error {
	return &Damage{File: b.t.s.path, Bucket: b.at.String(), Key: slices.Clone(k), Err: err}
}

// changes notes a key whose value becomes another, or goes. A transaction that
// fails in the end changes nothing, and noting it does no harm.
func (t *txn) changes(at source, k []byte) {
	switch {
	case at.bucket == string(blocksBucket):
		k := slices.Clone(k)
		t.after = append(t.after, func() { t.s.recent.written(0, k) })
	case at.bucket == string(rollupsBucket) && len(k) > 0:
		k := slices.Clone(k)
		t.after = append(t.after, func() { t.s.recent.written(k[0], k[1:]) })
	}
	for _, c := range t.s.copies {
		c.changed[changedKey{at, string(k)}] = true
	}
}

// write runs fn in a write transaction and commits it. An error of fn's undoes
// everything and is returned as it is; a failed commit is ErrDisk, for good.
func (s *Store) write(fn func(t *txn) error) error {
	return s.transact(func(t *txn) error {
		s.catchUp()
		return fn(t)
	})
}

// transact is write for who can do with heads that lack what landed last.
func (s *Store) transact(fn func(t *txn) error) error {
	s.writing.Lock()
	defer s.writing.Unlock()
	if err := s.Err(); err != nil {
		return err
	}
	if s.opt.ReadOnly {
		return fmt.Errorf("%s: %w", s.path, ErrReadOnly)
	}
	s.begun++
	t := &txn{s: s, number: s.begun}
	done := false
	defer func() {
		if !done {
			t.abandon()
		}
	}()
	err := guard(s.path, &t.foreign, func() (err error) {
		if t.bolt, err = s.db.Begin(true); err != nil {
			return err
		}
		t.pages = mappedBy(t.bolt)
		if err := fn(t); err != nil {
			return err
		}
		if err := t.pages.list(); err != nil {
			return &Damage{File: s.path, Err: err}
		}
		if err := s.commitBeside(t.bolt.Commit); err != nil {
			return s.fail(err)
		}
		return nil
	})
	if err != nil {
		return err
	}
	done = true
	s.publish(t)
	return nil
}

// fail remembers that the disk failed. Once a sync has failed the kernel may
// have dropped the pages and report the next sync as good, so there is no
// second try.
func (s *Store) fail(cause error) error {
	err := fmt.Errorf("%s: %w: %w", s.path, ErrDisk, cause)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.failed = err
	s.opt.Log.Error("the disk failed: nothing more is written", "err", err)
	return err
}

// abandon ends a transaction that did not come to its end.
func (t *txn) abandon() {
	s := t.s
	s.catchUp() // its tips are no longer those of what landed
	s.shelf = shelfState{}
	if t.bolt == nil {
		return
	}
	err := guard(s.path, nil, t.bolt.Rollback)
	if err == nil || errors.Is(err, berrors.ErrTxClosed) {
		return
	}
	// The writer's lock inside bbolt may be held for ever now: nobody may
	// ask for it again.
	s.mu.Lock()
	defer s.mu.Unlock()
	s.failed, s.stuck = err, true
}

// publish makes what was committed true in memory.
func (s *Store) publish(t *txn) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.commits++
	for _, x := range t.made.series {
		s.catalogue.add(x, x.group.number)
	}
	s.land(t)
	for _, fn := range t.after {
		fn()
	}
}
