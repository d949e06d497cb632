package store

import (
	"fmt"
	"os"
	"path/filepath"
)

// FreeSpace is what the file system of the database has left for us, and has
// in all, in bytes. A total of 0 means that the system does not tell.
func (s *Store) FreeSpace() (free, total uint64, err error) {
	free, total, err = freeSpace(filepath.Dir(s.path))
	if err != nil {
		return 0, 0, fmt.Errorf("space for %s: %w", s.path, err)
	}
	return free, total, nil
}

// SpaceLow reports whether it is time to tell somebody: less than a tenth or
// less than 1 GiB is free. Common practice, no source.
func SpaceLow(free, total uint64) bool {
	return total > 0 && (free < total/10 || free < 1<<30)
}

// Readings stop before the disk is full, so that no write fails half-way and
// what is left serves alarms and outbox: they are small, and somebody must be
// told. When that runs out too the reserve is given up.
const (
	roomForReadings  = 16 << 20
	roomForDocuments = 4 << 20
	// bytesEach is more than a thing in a batch can make the file grow by,
	// a block of readings rewritten for each included.
	bytesEach = 4 << 10
	// mostAtOnce is how many things are reckoned so: a batch of more is
	// readings that share their pages.
	mostAtOnce = 10_000
)

// room is ErrFull when a batch of n things could fill the disk.
func (s *Store) room(n int) error {
	free, total, err := s.FreeSpace()
	if err != nil || total == 0 {
		return nil // not known: then the write will tell
	}
	need := uint64(roomForReadings) + uint64(min(n, mostAtOnce))*bytesEach
	if s.opt.Reserve > 0 && !s.reserved.Load() {
		need += uint64(s.opt.Reserve) // what was given up was for documents
	}
	if free >= need {
		s.restoreReserve(free)
		return nil
	}
	return fmt.Errorf("%s: %w: %d MiB free of %d: free some space on the disk", s.path, ErrFull, free>>20, total>>20)
}

// spare gives the reserve up when documents need it.
func (s *Store) spare() {
	free, total, err := s.FreeSpace()
	if err != nil || total == 0 || free >= roomForDocuments {
		return
	}
	s.writing.Lock()
	defer s.writing.Unlock()
	if !s.reserved.Load() {
		return
	}
	s.reserved.Store(false)
	err = os.Remove(s.reservePath())
	s.opt.Log.Error("the disk is full: the reserve is given up for alarms and messages", "free", free, "err", err)
}

func (s *Store) restoreReserve(free uint64) {
	if s.opt.Reserve < 0 || free < roomForReadings+4*uint64(s.opt.Reserve) {
		return
	}
	s.writing.Lock()
	defer s.writing.Unlock()
	if !s.reserved.Load() {
		s.makeReserve()
	}
}

func (s *Store) reservePath() string { return s.path + ".reserve" }

// makeReserve sets the reserve aside where there is room for it. The caller
// holds writing.
func (s *Store) makeReserve() {
	if s.opt.Reserve < 0 {
		return
	}
	if info, err := os.Stat(s.reservePath()); err == nil && info.Size() == s.opt.Reserve {
		s.reserved.Store(true)
		return
	}
	free, total, err := s.FreeSpace()
	if err == nil && total > 0 && free < roomForReadings+2*uint64(s.opt.Reserve) {
		s.opt.Log.Warn("too little room for a reserve beside the database", "free", free)
		return
	}
	if err := fill(s.reservePath(), s.opt.Reserve); err != nil {
		s.opt.Log.Warn("no reserve beside the database", "err", err)
		_ = os.Remove(s.reservePath())
		return
	}
	s.reserved.Store(true)
}
