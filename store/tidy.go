package store

import (
	"slices"
	"time"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

const (
	// settle is how long after its end a stretch is sealed: longer than a
	// gateway's readings are usually late, so that few are sealed twice.
	settle = 15 * time.Minute
	// quiet is how long no reading has come for a stretch before it is
	// sealed, so that a backlog is not sealed again with each of its messages.
	quiet = time.Minute
	// crowded is how many readings may be pending before the fullest stretch
	// is sealed without waiting for quiet: some 16 MiB.
	crowded = 8 << 20
	// trimmed bounds how many log records one transaction deletes.
	trimmed = 512
)

// Tidy does one bounded piece of housekeeping: it seals a stretch whose time
// is over, deletes log records that are no longer needed, or readings older
// than they are to be kept. It reports whether there is more to do now. It may
// be called beside anything else; ErrFull waits for room, any other ErrDisk is
// final.
func (s *Store) Tidy() (more bool, err error) {
	s.tidying.Lock()
	defer s.tidying.Unlock()
	if err := s.room(0); err != nil {
		return false, err
	}
	if p := s.ripe(); p != nil {
		return s.seal(p)
	}
	if more, err := s.forget(); more || err != nil {
		return more, err
	}
	return s.trimLog()
}

// Seal puts all that is pending into blocks, whether its time is over or not.
func (s *Store) Seal() error {
	s.tidying.Lock()
	defer s.tidying.Unlock()
	for {
		p := s.choose(func(*pending) bool { return true })
		if p == nil {
			break
		}
		if _, err := s.seal(p); err != nil {
			return err
		}
	}
	for {
		if more, err := s.trimLog(); !more || err != nil {
			return err
		}
	}
}

// ripe is a stretch to be sealed now, or nil.
func (s *Store) ripe() *pending {
	now := aquarium.At(s.opt.Now())
	if p := s.choose(func(p *pending) bool {
		return p.end().Add(settle) <= now && p.touched.Add(quiet) <= now
	}); p != nil {
		return p
	}
	s.mu.RLock()
	defer s.mu.RUnlock()
	all := 0
	var fullest *pending
	for _, g := range s.catalogue.groups {
		for _, p := range g.open {
			all += p.n
			if fullest == nil || p.n > fullest.n {
				fullest = p
			}
		}
	}
	if all < crowded {
		return nil
	}
	return fullest
}

// choose is the pending stretch that holds the log back most of those that
// will do, or nil.
func (s *Store) choose(will func(*pending) bool) *pending {
	s.mu.RLock()
	defer s.mu.RUnlock()
	var first *pending
	for _, g := range s.catalogue.groups {
		for _, p := range g.open {
			if (first == nil || p.firstSeq < first.firstSeq || p.firstSeq == first.firstSeq && p.start < first.start) && will(p) {
				first = p
			}
		}
	}
	return first
}

// logNeeded is the first log record that is needed when these stretches are
// sealed. The caller writes.
func (s *Store) logNeeded(but []*sealing) uint64 {
	least := ^uint64(0)
	for _, g := range s.catalogue.groups {
		for _, p := range g.open {
			if p.n > 0 && !slices.ContainsFunc(but, func(j *sealing) bool { return j.p == p }) {
				least = min(least, p.firstSeq)
			}
		}
	}
	return least
}

// trimLog deletes log records that are in blocks.
func (s *Store) trimLog() (more bool, err error) {
	if !s.trimmable() {
		return false, nil
	}
	err = s.write(func(t *txn) error { return s.trim(t, s.logNeeded(nil)) })
	return err == nil && s.trimmable(), err
}

// trimmable reports whether the log begins with a record that is not needed.
func (s *Store) trimmable() bool {
	s.mu.RLock()
	needed := s.logNeeded(nil)
	s.mu.RUnlock()
	first, ok := s.firstLogged()
	return ok && first < needed
}

// trim deletes log records before needed, some at a time.
func (s *Store) trim(t *txn, needed uint64) error {
	b := t.bucket(logBucket)
	c := b.Cursor()
	var keys [][]byte
	for k, _ := c.First(); k != nil && len(keys) < trimmed; k, _ = c.Next() {
		if seq, err := record.SplitLogKey(k); err == nil && seq >= needed {
			break
		}
		keys = append(keys, append([]byte(nil), k...))
	}
	return deleteAll(b, keys)
}

// firstLogged is the sequence of the log's first record.
func (s *Store) firstLogged() (seq uint64, ok bool) {
	err := s.read(func(tx *bbolt.Tx) error {
		k, _ := tx.Bucket(logBucket).Cursor().First()
		if k == nil {
			return nil
		}
		var err error
		seq, err = record.SplitLogKey(k)
		ok = err == nil
		return nil
	})
	return seq, ok && err == nil
}
