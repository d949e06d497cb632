package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"go.etcd.io/bbolt"
	berrors "go.etcd.io/bbolt/errors"

	"lentic/store/record"
)

// making is a database that is made key by key under another name, and gets its
// own once it has been read back.
type making struct {
	dest      string // its own name; nobody else's file is ever written over
	path      string // until then
	db        *bbolt.DB
	tx        *bbolt.Tx
	size      int // bytes put since the last commit
	unsynced  int // and since the last sync
	sum       digest
	sequences map[source]uint64
}

const (
	makingStep = 8 << 20
	// makingSync is how much is written between two syncs: so little that
	// nobody else's sync waits long behind it.
	makingSync = 32 << 20
)

// newMaking begins a file that is to have a name. A half-made one that an
// earlier try left is removed.
func newMaking(dest string) (*making, error) {
	if _, err := os.Lstat(dest); err == nil {
		return nil, fmt.Errorf("%s: %w: name a file that does not exist", dest, fs.ErrExist)
	} else if !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	m := &making{dest: dest, path: dest + ".partial", sequences: map[source]uint64{}}
	if err := removeLeft(m.path); err != nil {
		return nil, err
	}
	err := guard(m.path, nil, func() (err error) {
		// Nobody can lose what has no name yet, so it is synced when it
		// suits, and before it gets one.
		m.db, err = bbolt.Open(m.path, 0o600, &bbolt.Options{FreelistType: bbolt.FreelistMapType, NoSync: true, NoGrowSync: true})
		if err != nil {
			return err
		}
		return m.db.Update(func(tx *bbolt.Tx) error {
			for _, name := range buckets {
				if _, err := tx.CreateBucket(name); err != nil {
					return err
				}
			}
			return nil
		})
	})
	if err != nil {
		return nil, errors.Join(fmt.Errorf("make %s: %w", m.path, err), m.abandon())
	}
	return m, nil
}

// removeLeft removes what an interrupted try left, unless somebody is at it.
func removeLeft(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	defer f.Close()
	if !lockAlone(f) {
		return fmt.Errorf("%s: %w: it is being written by another process", path, ErrLocked)
	}
	return os.Remove(path)
}

// bucket is the place in the transaction that is open, made where there is none.
func (m *making) bucket(at source) (b *bbolt.Bucket, err error) {
	if m.tx == nil {
		if m.tx, err = m.db.Begin(true); err != nil {
			return nil, err
		}
	}
	b = m.tx.Bucket([]byte(at.bucket))
	if at.shelf != "" {
		b, err = b.CreateBucketIfNotExists([]byte(at.shelf))
	}
	if b != nil {
		b.FillPercent = 1 // keys come in order, nearly all of them
	}
	return b, err
}

// do runs fn on a bucket, and ends the transaction when it has become large.
func (m *making) do(at source, size int, fn func(b *bbolt.Bucket) error) error {
	return guard(m.path, nil, func() error {
		b, err := m.bucket(at)
		if err == nil {
			err = fn(b)
		}
		if err != nil {
			return fmt.Errorf("write %s: bucket %s: %w", m.path, at, err)
		}
		if m.size += size; m.size < makingStep {
			return nil
		}
		return m.commit()
	})
}

// put keeps k and v until the commit.
func (m *making) put(at source, k, v []byte) error {
	return m.do(at, len(k)+len(v), func(b *bbolt.Bucket) error {
		if old := b.Get(k); old != nil {
			m.sum.remove(at, k, old)
		}
		m.sum.add(at, k, v)
		return b.Put(k, v)
	})
}

func (m *making) remove(at source, k []byte) error {
	return m.do(at, len(k), func(b *bbolt.Bucket) error {
		if old := b.Get(k); old != nil {
			m.sum.remove(at, k, old)
		}
		return b.Delete(k)
	})
}

func (m *making) sequence(at source, n uint64) error {
	m.sequences[at] = n
	return m.do(at, 0, func(b *bbolt.Bucket) error { return b.SetSequence(n) })
}

func (m *making) commit() error {
	if m.tx == nil {
		return nil
	}
	tx := m.tx
	m.tx = nil
	if err := tx.Commit(); err != nil {
		return fmt.Errorf("write %s: %w", m.path, err)
	}
	m.unsynced += m.size
	m.size = 0
	if free, total, err := freeSpace(filepath.Dir(m.path)); err == nil && total > 0 && free < roomToLeave {
		return fmt.Errorf("write %s: %d MiB are left on the disk, and stay for readings: name a place with more room", m.path, free>>20)
	}
	if m.unsynced < makingSync {
		return nil
	}
	m.unsynced = 0
	return m.db.Sync()
}

// close ends the writing: all of it is on disk then.
func (m *making) close() error {
	err := guard(m.path, nil, func() error { return errors.Join(m.commit(), m.db.Sync(), m.db.Close()) })
	m.db = nil
	if err != nil {
		return err
	}
	return syncFile(m.path)
}

// readBack reads all of it from the disk and compares it with what was put in.
func (m *making) readBack(ctx context.Context, progress func(done, total int64)) (Findings, error) {
	c := newChecker(m.path)
	if err := checkFile(ctx, m.path, c, progress); err != nil {
		return c.Findings, err
	}
	if c.sum != m.sum {
		return c.Findings, &Damage{File: m.path, Err: fmt.Errorf("%w: what was read back is not what was written", record.ErrCorrupt)}
	}
	for at, n := range m.sequences {
		if at.shelf == "" && c.sequences[at] != n {
			return c.Findings, &Damage{File: m.path, Bucket: at.String(), Err: fmt.Errorf("%w: its sequence is %d, and %d was written", record.ErrCorrupt, c.sequences[at], n)}
		}
	}
	return c.Findings, nil
}

// install gives the file its name.
func (m *making) install() error { return install(m.path, m.dest, false) }

// abandon removes what has no name yet. After install it does nothing.
func (m *making) abandon() error {
	var err error
	if m.db != nil {
		err = guard(m.path, nil, func() error {
			if m.tx != nil {
				if e := m.tx.Rollback(); e != nil && !errors.Is(e, berrors.ErrTxClosed) {
					return e
				}
			}
			return m.db.Close()
		})
		m.db = nil
	}
	if e := os.Remove(m.path); e != nil && !errors.Is(e, fs.ErrNotExist) {
		err = errors.Join(err, e)
	}
	return err
}
