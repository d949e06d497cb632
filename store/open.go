package store

import (
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"go.etcd.io/bbolt"
	berrors "go.etcd.io/bbolt/errors"
)

// Open opens the database at path, and makes one where there is none unless
// ReadOnly is asked for. It never waits: a file in use is ErrLocked at once.
// Other answers are ErrNotOurs, ErrNewerFormat and ErrDamaged, after which the
// file is as it was; else what the file system says.
func Open(path string, o Options) (*Store, error) {
	o = o.withDefaults()
	_, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) && !o.ReadOnly {
		err = create(path, cmp.Or(o.Writer, "lentic"))
	}
	if err != nil {
		return nil, fmt.Errorf("open database: %w", err)
	}
	// The first look is read-only whatever follows, so that a file that must
	// not be touched is not.
	spoilt, err := look(path, o.ReadOnly)
	if errors.Is(err, errOlder) && !o.ReadOnly {
		err = migrate(path, o)
	}
	if err != nil {
		return nil, err
	}
	s := &Store{path: path, opt: o, reads: newReadTimes(), spoilt: spoilt}
	if spoilt != nil {
		o.Log.Error("the database is not as it was left", "err", spoilt)
	}
	if s.db, err = openBolt(path, o.ReadOnly, nil); err != nil {
		return nil, err
	}
	if err = s.begin(); err == nil {
		err = s.reads.register(o.Metrics)
	}
	if err != nil {
		return nil, errors.Join(err, guard(path, nil, s.db.Close))
	}
	return s, nil
}

// look holds the file for a moment, settles it, and checks what can be told
// without reading all of it. spoilt is a meta page that the other makes up for.
func look(path string, readOnly bool) (spoilt *Damage, err error) {
	if err := sniff(path); err != nil {
		return nil, err
	}
	db, err := openBolt(path, true, openSettled)
	if err != nil {
		return nil, err
	}
	err = guard(path, nil, func() (err error) {
		if spoilt, err = verifyFile(path, readOnly); err != nil {
			return err
		}
		return db.View(func(tx *bbolt.Tx) error {
			_, err := readMeta(tx, path)
			return err
		})
	})
	return spoilt, errors.Join(err, guard(path, nil, db.Close))
}

// sniff tells foreign files apart by the magic numbers of bbolt's two meta
// pages. It needs no lock: they never change.
func sniff(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("open database: %w", err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return fmt.Errorf("open database: %w", err)
	}
	var head [12]byte // magic number, version, page size
	for size := 0; size <= 65536; size = max(1024, 2*size) {
		switch _, err := f.ReadAt(head[:], int64(size)+pageHeader); {
		case err == io.EOF:
			continue
		case err != nil:
			return fmt.Errorf("open database: %w", err)
		case binary.NativeEndian.Uint32(head[:]) != boltMagic:
			continue
		}
		if page := int64(binary.NativeEndian.Uint32(head[8:])); page <= 65536 && info.Size() < 2*page {
			return &Damage{File: path, Err: fmt.Errorf("the file is cut off: %d bytes are less than its first two pages", info.Size())}
		}
		return nil
	}
	return fmt.Errorf("%s: %w: give another path or move it away", path, ErrNotOurs)
}

// growBy is how much longer the file is made at a time: some hours' readings of
// fifty tanks, for a sync more.
const growBy = 1 << 20

// openBolt opens a bbolt file with its lock; a nil open is os.OpenFile.
func openBolt(path string, readOnly bool, open func(string, int, os.FileMode) (*os.File, error)) (db *bbolt.DB, err error) {
	err = guard(path, nil, func() error {
		db, err = bbolt.Open(path, 0o600, &bbolt.Options{
			// Any wait at all is longer than this, so there is none.
			Timeout:  time.Nanosecond,
			ReadOnly: readOnly,
			// Without its list of free pages in the file, opening
			// would have to read every page.
			NoFreelistSync: false,
			// The array takes the first pages that will do, and so leaves
			// what is long at the end whole; the map takes any.
			FreelistType: bbolt.FreelistArrayType,
			OpenFile:     open,
		})
		return err
	})
	switch {
	case err == nil:
		db.AllocSize = growBy
		return db, nil
	case errors.Is(err, berrors.ErrTimeout):
		return nil, fmt.Errorf("%s: %w by another process: stop it, or use the command that asks the running daemon", path, ErrLocked)
	case errors.Is(err, berrors.ErrInvalid), errors.Is(err, berrors.ErrChecksum), errors.Is(err, berrors.ErrVersionMismatch), errors.Is(err, berrors.ErrInvalidMapping):
		return nil, &Damage{File: path, Err: fmt.Errorf("meta pages: %w", err)}
	}
	return nil, fmt.Errorf("open database: %w", err)
}

// begin reads what is kept in memory and stamps the writer.
func (s *Store) begin() error {
	var was stamp
	err := s.read(func(tx *bbolt.Tx) (err error) {
		was, err = readMeta(tx, s.path)
		return err
	})
	s.id = was.id
	if err == nil {
		err = s.loadSeries()
	}
	if err == nil {
		err = s.replay()
	}
	if err != nil || s.opt.ReadOnly {
		return err
	}
	s.writing.Lock()
	if _, last, ok := s.logged(); ok {
		s.needs(last)
	}
	s.makeReserve()
	s.writing.Unlock()
	return s.restamp(was)
}

// create makes a new database under another name first, so that a half-made
// one is never found at path.
func create(path, writer string) (err error) {
	dir, err := os.MkdirTemp(filepath.Dir(path), ".new-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	tmp := filepath.Join(dir, filepath.Base(path))
	db, err := bbolt.Open(tmp, 0o600, &bbolt.Options{FreelistType: bbolt.FreelistArrayType})
	if err != nil {
		return err
	}
	err = db.Update(func(tx *bbolt.Tx) error { return writeMeta(tx, writer) })
	if err := errors.Join(err, db.Close()); err != nil {
		return err
	}
	// Another process may have been faster: then its file is the database.
	if err := install(tmp, path, false); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return nil
}
