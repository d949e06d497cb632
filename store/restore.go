package store

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"time"
)

// Restored says what Restore did.
type Restored struct {
	Findings     // what the database holds
	OldID, NewID string
	Over         bool // another database had the name
	// Newest is the greatest time of a reading, zero where there is none.
	Newest time.Time
}

// Restore puts a backup in the place of the database at path: src is checked
// wholly first, and is not changed; what is put in its place is a copy of it
// that has been compared with it and read back. A database that is there is
// replaced with overwrite only, and kept as it is until the very end; without it
// that is fs.ErrExist. A database in use is ErrLocked, a damaged src ErrDamaged.
//
// The new database has an ID of its own, so that it is not taken for the one
// that the backup is of. prepare, where it is not nil, may change it further
// before it gets its name.
func Restore(ctx context.Context, src, path string, overwrite bool, prepare func(*Store) error, progress func(step string, done, total int64)) (done Restored, err error) {
	hold, err := holdOff(path, overwrite)
	if err != nil {
		return done, err
	}
	if hold != nil {
		done.Over = true
		defer hold.Close() // and with it the lock
	}
	step := func(name string) func(int64, int64) {
		return func(n, total int64) {
			if progress != nil {
				progress(name, n, total)
			}
		}
	}
	given := newChecker(src)
	if err := checkFile(ctx, src, given, step(StepCheck)); err != nil {
		return done, err
	}
	if err := given.Err(); err != nil {
		return done, fmt.Errorf("%w: nothing was restored: salvage what is whole first", err)
	}
	fresh := path + ".restoring"
	if err := removeLeft(fresh); err != nil {
		return done, err
	}
	defer func() {
		if e := os.Remove(fresh); e != nil && !errors.Is(e, fs.ErrNotExist) {
			err = errors.Join(err, e)
		}
	}()
	if err := copyFile(ctx, src, fresh, step(StepCopy)); err != nil {
		return done, err
	}
	c := newChecker(fresh)
	if err := checkFile(ctx, fresh, c, step(StepReadBack)); err != nil {
		return done, err
	}
	if c.sum != given.sum || c.Damaged > 0 {
		return done, &Damage{File: fresh, Err: errors.Join(errors.New("the copy is not what it is a copy of"), c.Err())}
	}
	if err := done.renew(fresh, prepare); err != nil {
		return done, err
	}
	if done.Findings, err = CheckFile(ctx, fresh, step(StepReadBack)); err != nil {
		return done, err
	}
	if err := done.Err(); err != nil {
		return done, err
	}
	return done, install(fresh, path, overwrite)
}

// StepCheck is what progress is told of first.
const StepCheck = "checking"

// holdOff keeps everybody from opening the database that is to be replaced; nil
// where there is none.
func holdOff(path string, overwrite bool) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	if !lockAlone(f) {
		f.Close()
		return nil, fmt.Errorf("%s: %w by another process: stop it first", path, ErrLocked)
	}
	if !overwrite {
		f.Close()
		return nil, fmt.Errorf("%s: %w, and would be lost", path, fs.ErrExist)
	}
	return f, nil
}

// copyFile copies a file byte by byte.
func copyFile(ctx context.Context, from, to string, progress func(done, total int64)) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	info, err := in.Stat()
	if err != nil {
		return err
	}
	if err := (&making{dest: to}).needs(info.Size()); err != nil {
		return err
	}
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	for n := int64(0); err == nil; {
		var some int64
		some, err = io.CopyN(out, in, makingStep)
		n += some
		progress(min(n, info.Size()), info.Size())
		if err == nil {
			err = ctx.Err()
		}
	}
	if errors.Is(err, io.EOF) {
		err = out.Sync()
	}
	return errors.Join(err, out.Close())
}

// renew gives the copy an ID of its own, and prepare its turn.
func (r *Restored) renew(path string, prepare func(*Store) error) error {
	s, err := Open(path, Options{Reserve: -1, Keep: -1, KeepMinutes: -1})
	if err != nil {
		return err
	}
	r.OldID = s.id
	id := make([]byte, 16)
	_, _ = rand.Read(id)
	r.NewID = hex.EncodeToString(id)
	err = s.write(func(t *txn) error { return t.putMeta(idKey, r.NewID) })
	for _, k := range s.Sensors() {
		if l, ok := s.Latest(k); ok && l.At.Time().After(r.Newest) {
			r.Newest = l.At.Time()
		}
	}
	if err == nil && prepare != nil {
		err = prepare(s)
	}
	return errors.Join(err, s.Close())
}
