package store

import (
	"fmt"
	"os"
	"sync"
	"sync/atomic"

	"go.etcd.io/bbolt"
)

// Store is an open database. Its methods may be called by any goroutine;
// writers wait for one another, readers for nobody. Nothing may write to the
// store from within a function handed to Update or View, or from a hook,
// except by the transaction it is given.
type Store struct {
	path   string
	opt    Options
	id     string
	db     *bbolt.DB
	spoilt *Damage // a meta page that the other made up for; nil: none
	// reads measures read transactions.
	reads *readTimes

	writing sync.Mutex // one writer at a time; guards shelf, scratch, log, begun and copies
	copies  []*copying // that are being made
	shelf   shelfState
	scratch standing // of a transaction that is over, to be used again
	log     logState
	begun   uint64 // counts transactions, those that failed too
	// reserved reports whether the reserve file is there; changed by writers.
	reserved atomic.Bool

	imports atomic.Int64 // that are under way

	recent recent // columns that were read last

	tidying sync.Mutex // one piece of housekeeping at a time; taken before writing

	mu        sync.RWMutex // guards what follows; taken after writing
	failed    error        // once set, every write returns it
	stuck     bool         // a transaction could not be ended: the file cannot be closed
	catalogue catalogue
	landed    landed // what the heads of the catalogue still lack
	// commits counts what was published, so that a Latest read before a
	// commit is not remembered after it.
	commits uint64
}

// ID is the database's own random name: 32 hexadecimal digits, made with the
// file and never changed.
func (s *Store) ID() string { return s.id }

// Path is the file.
func (s *Store) Path() string { return s.path }

// Size is the length of the file in bytes, 0 when it cannot be told.
func (s *Store) Size() int64 {
	info, err := os.Stat(s.path)
	if err != nil {
		return 0
	}
	return info.Size()
}

// Err is the ErrDisk that ended writing, or nil.
func (s *Store) Err() error {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return s.failed
}

// Close waits for the writer and ends the use of the file. Closing twice is
// harmless; after it every call that needs the file fails.
func (s *Store) Close() error {
	s.writing.Lock()
	defer s.writing.Unlock()
	s.mu.Lock()
	stuck := s.stuck
	if s.failed == nil {
		s.failed = fmt.Errorf("%s: %w", s.path, ErrClosed)
	}
	s.mu.Unlock()
	if stuck {
		return nil
	}
	return guard(s.path, nil, s.db.Close)
}
