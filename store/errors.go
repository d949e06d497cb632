package store

import (
	"errors"
	"fmt"
	"runtime/debug"
)

// Errors callers branch on.
var (
	// ErrNotOurs: the file is no database of lentic's.
	ErrNotOurs = errors.New("not a lentic database")
	// ErrNewerFormat: it was written by a later lentic. It is left untouched.
	ErrNewerFormat = errors.New("the database is of a newer format")
	// ErrDamaged: something in it is not what was written.
	ErrDamaged = errors.New("the database is damaged")
	// ErrLocked: another process has it open.
	ErrLocked = errors.New("another process holds the database")
	// ErrDisk: a write or a sync failed; the process must end.
	ErrDisk = errors.New("the disk failed")
	// ErrClosed: the store was closed.
	ErrClosed = errors.New("the store is closed")
)

// guarded runs fn with what a damaged file can do to the process turned into
// ErrDamaged: bbolt panics on pages that make no sense, and the map of a file
// that was cut short faults.
func guarded(path, doing string, fn func() error) (err error) {
	old := debug.SetPanicOnFault(true)
	defer debug.SetPanicOnFault(old)
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("%s: %s: %w: %v", doing, path, ErrDamaged, p)
		}
	}()
	return fn()
}
