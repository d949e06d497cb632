package store

import (
	"errors"
	"slices"

	"go.etcd.io/bbolt"

	"lentic/store/record"
)

const (
	// logPiece is how long a log record becomes, in bytes, before the commit
	// goes on in another. bbolt leaves up to four entries together however
	// long they are; four of these fit a page, and so every page of the log
	// is a single one, and what is deleted of it fits whatever is written
	// next.
	logPiece = 980
	// trimmed bounds how many log records one transaction deletes: those of
	// some thirty pages.
	trimmed = 128
	// Mostly between fewFree and manyFree pages are free. What a sealing
	// leaves free more is some thirty.
	fewFree, manyFree = 24, 60
	// logSlack is which part of the log, one of so many, may be of records
	// that no longer count before housekeeping deletes them, and logFew how
	// many may be in any case. Up to logMost it waits for the pages of others
	// to be used again.
	logSlack = 4
	logMost  = 2
	logFew   = trimmed
)

// logState is what the writer knows of the log.
type logState struct {
	// needed: no record before it counts any more.
	needed uint64
	// owed is how many bytes were written since some were deleted.
	owed   int
	writer record.LogWriter
	// forgets: blocks are being forgotten, and what they leave free is for
	// those that are sealed next.
	forgets bool
	stuck   bool // its old end is damaged, and that was told
}

// log writes the readings that stand, in the order they were given.
func (t *txn) log() error {
	if len(t.stands.readings) == 0 {
		return nil
	}
	l := &t.s.log
	l.writer.Reset()
	b := t.bucket(logBucket)
	b.FillPercent = 1 // records come in order
	for rs := t.stands.readings; len(rs) > 0; {
		seq, err := b.NextSequence()
		if err != nil {
			return err
		}
		if t.firstSeq == 0 {
			t.firstSeq = seq
		}
		t.lastSeq = seq
		key := record.LogKey(seq)
		value, n := l.writer.Next(key, rs, logPiece)
		if err := b.Put(key, value); err != nil {
			return err
		}
		l.owed += len(key) + len(value)
		rs = rs[n:]
	}
	return t.trimAlong(b)
}

// trimAlong deletes about as much of the log as was written, as far as it no
// longer counts: the log stays as long as it is, and its pages go round. Were all
// of it deleted when a stretch is sealed, hundreds of pages would be free until
// they are written to again. Single pages that nothing longer fits into become
// more in time: where many are free the log grows into them, and where few are
// it gives some back. Once blocks are forgotten their long runs are free as well,
// and it must not break those up.
func (t *txn) trimAlong(b changing) error {
	l := &t.s.log
	if l.owed < t.bolt.DB().Info().PageSize {
		return nil
	}
	owed := l.owed
	l.owed = 0
	switch free := t.s.freePages(); {
	case free > manyFree && !l.forgets:
		return nil
	case free < fewFree:
		owed *= 2
	}
	var keys [][]byte
	err := guard(t.s.path, nil, func() error {
		c := b.Cursor()
		for k, v := c.First(); k != nil && owed > 0; k, v = c.Next() {
			if seq, err := record.SplitLogKey(k); err == nil && seq >= l.needed {
				break
			}
			owed -= len(k) + len(v)
			keys = append(keys, slices.Clone(k))
		}
		return nil
	})
	if err == nil {
		err = deleteAll(b, keys)
	}
	// Readings are taken all the same where the log's other end is damaged: it
	// only becomes longer.
	if errors.Is(err, ErrDamaged) {
		if !l.stuck {
			t.s.opt.Log.Error("the log cannot be made shorter", "err", err)
		}
		l.stuck, err = true, nil
	}
	return err
}

// needs notes from which log record on they count, once the stretches that are
// pending now are all. The caller writes.
func (s *Store) needs(last uint64) { s.log.needed = min(s.logNeeded(), last+1) }

// logNeeded is the first log record with a reading that is pending. The caller
// writes, or holds mu.
func (s *Store) logNeeded() uint64 {
	least := ^uint64(0)
	for _, g := range s.catalogue.groups {
		for _, p := range g.open {
			if p.n > 0 {
				least = min(least, p.firstSeq)
			}
		}
	}
	return least
}

// freePages is how many pages are free, or will be with the next commit.
func (s *Store) freePages() int {
	st := s.db.Stats()
	return st.FreePageN + st.PendingPageN
}

// trimLog deletes log records that no longer count, where they are too many to
// wait for appends to do it. With slack it may leave them while other pages are
// free: appends then write to those first.
func (s *Store) trimLog(slack uint64) (more bool, err error) {
	now := func() bool {
		return s.trimmable(slack) && (slack == 0 || s.freePages() <= fewFree || s.trimmable(logMost))
	}
	if !now() {
		return false, nil
	}
	some, err := s.trimSome()
	return some && now(), err
}

// trimSome deletes log records that no longer count, some at a time; false: there
// are none.
func (s *Store) trimSome() (some bool, err error) {
	err = s.write(func(t *txn) (err error) {
		some, err = s.trim(t)
		return err
	})
	return some && err == nil, err
}

// trimmable reports whether more than a part of the log, 1/slack of it, no
// longer counts; slack 0: any of it.
func (s *Store) trimmable(slack uint64) bool {
	s.rlock()
	needed := s.logNeeded()
	s.mu.RUnlock()
	first, last, ok := s.logged()
	if !ok || first >= needed {
		return false
	}
	done := min(needed, last+1) - first
	return slack == 0 || done > logFew && done*slack > last+1-first
}

func (s *Store) trim(t *txn) (some bool, err error) {
	b := t.bucket(logBucket)
	s.needs(b.Sequence())
	c := b.Cursor()
	var keys [][]byte
	for k, _ := c.First(); k != nil && len(keys) < trimmed; k, _ = c.Next() {
		if seq, err := record.SplitLogKey(k); err == nil && seq >= s.log.needed {
			break
		}
		keys = append(keys, slices.Clone(k))
	}
	return len(keys) > 0, deleteFirst(b, keys)
}

// logged gives the sequences of the log's first and last record.
func (s *Store) logged() (first, last uint64, ok bool) {
	err := s.read(func(tx *bbolt.Tx) (err error) {
		c := tx.Bucket(logBucket).Cursor()
		k, _ := c.First()
		if k == nil {
			return nil
		}
		if first, err = record.SplitLogKey(k); err != nil {
			return err
		}
		k, _ = c.Last()
		last, err = record.SplitLogKey(k)
		ok = err == nil
		return err
	})
	return first, last, ok && err == nil
}
