package store

import (
	"bytes"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"time"

	bolt "go.etcd.io/bbolt"
	bolterrors "go.etcd.io/bbolt/errors"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// Buckets of the file.
var (
	bucketMeta      = []byte("meta")
	bucketSeries    = []byte("series")    // sensor -> number
	bucketReadings  = []byte("readings")  // record.Key -> block
	bucketLedger    = []byte("ledger")    // a bucket for each shelf
	bucketRefused   = []byte("refused")   // sequence -> refusal
	bucketUnclaimed = []byte("unclaimed") // sequence -> message
	bucketAside     = []byte("aside")     // sequence -> record
	bucketConflicts = []byte("conflicts") // sequence -> conflict

	keyFormat = []byte("format")
	keyWriter = []byte("writer")
	keyID     = []byte("id")
)

// Options of Open. The zero value is fine.
type Options struct {
	Now    func() time.Time // nil: time.Now
	Log    *slog.Logger     // nil: silent
	Writer string           // stamped into the file, as "lentic 0.1.0"
}

// Store is one database. Its methods may be called by any goroutine; writes
// take turns. A transaction must not be begun inside another.
type Store struct {
	path string
	o    Options
	db   *bolt.DB
	id   string

	writing sync.Mutex // one writer at a time, held around hooks too
	broken  error      // guarded by writing; every later write's answer

	mu     sync.RWMutex // guards what follows; never held around a hook
	series map[aquarium.SensorKey]uint32
	edges  map[aquarium.SensorKey]edges
}

// edges are the oldest and newest reading of a series, once looked up.
type edges struct{ first, last aquarium.Reading }

// Open opens the database at path, or makes one. It never waits for another
// process: that is ErrLocked. ErrNotOurs and ErrNewerFormat leave the file as
// it is, byte by byte.
func Open(path string, o Options) (*Store, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	s := &Store{path: path, o: o, series: map[aquarium.SensorKey]uint32{}, edges: map[aquarium.SensorKey]edges{}}
	err := guarded(path, "open", func() error {
		if err := inspect(path); err != nil {
			return err
		}
		db, err := openFile(path, false)
		if err != nil {
			return err
		}
		s.db = db
		if err := s.prepare(); err != nil {
			return errors.Join(err, db.Close())
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return s, nil
}

func openFile(path string, readOnly bool) (*bolt.DB, error) {
	db, err := bolt.Open(path, 0o600, &bolt.Options{
		Timeout: time.Millisecond, ReadOnly: readOnly, FreelistType: bolt.FreelistMapType,
	})
	switch {
	case err == nil:
		return db, nil
	case errors.Is(err, bolterrors.ErrTimeout):
		return nil, fmt.Errorf("open %s: %w", path, ErrLocked)
	case errors.Is(err, bolterrors.ErrInvalid), errors.Is(err, bolterrors.ErrVersionMismatch):
		return nil, fmt.Errorf("open %s: %w: %v", path, ErrNotOurs, err)
	case errors.Is(err, bolterrors.ErrChecksum):
		return nil, fmt.Errorf("open %s: %w: %v", path, ErrDamaged, err)
	}
	return nil, fmt.Errorf("open %s: %w", path, err)
}

// boltMagic stands in the first page's body of every bbolt file.
var boltMagic = []byte{0xed, 0xda, 0x0c, 0xed}

// inspect looks at an existing file without writing to it.
func inspect(path string) error {
	info, err := os.Stat(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("open %s: %w", path, err)
	}
	if info.Size() == 0 {
		return fmt.Errorf("open %s: %w: the file is empty; move it away if a new database is wanted", path, ErrNotOurs)
	}
	if err := sniff(path); err != nil {
		return err
	}
	db, err := openFile(path, true)
	if err != nil {
		return err
	}
	defer db.Close()
	return db.View(func(tx *bolt.Tx) error {
		if tx.Size() > info.Size() {
			return fmt.Errorf("open %s: %w: it has %d bytes and its pages need %d: it was cut short", path, ErrDamaged, info.Size(), tx.Size())
		}
		meta := tx.Bucket(bucketMeta)
		if meta == nil || meta.Get(keyFormat) == nil {
			return fmt.Errorf("open %s: %w: it has no format number", path, ErrNotOurs)
		}
		format, err := strconv.Atoi(string(meta.Get(keyFormat)))
		switch {
		case err != nil || format < 1:
			return fmt.Errorf("open %s: %w: format %q", path, ErrDamaged, meta.Get(keyFormat))
		case format > record.Format:
			return fmt.Errorf("open %s: %w: %d, written by %q; this lentic reads up to %d. Use that lentic, or export the readings with it",
				path, ErrNewerFormat, format, meta.Get(keyWriter), record.Format)
		}
		return nil
	})
}

// sniff tells a file of something else from a damaged one of ours.
func sniff(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("open %s: %w", path, err)
	}
	defer f.Close()
	head := make([]byte, 64)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		return fmt.Errorf("open %s: %w", path, err)
	}
	if !bytes.Contains(head[:n], boltMagic) {
		// The second meta page stands in for a damaged first; only a
		// file with neither is somebody else's.
		second := make([]byte, 64)
		if n, _ := f.ReadAt(second, int64(os.Getpagesize())); !bytes.Contains(second[:n], boltMagic) {
			return fmt.Errorf("open %s: %w", path, ErrNotOurs)
		}
	}
	return nil
}

// prepare stamps a new file and reads what must be known of an old one.
func (s *Store) prepare() error {
	var fresh bool
	err := s.db.View(func(tx *bolt.Tx) error {
		meta := tx.Bucket(bucketMeta)
		if fresh = meta == nil; fresh {
			return nil
		}
		s.id = string(meta.Get(keyID))
		return tx.Bucket(bucketSeries).ForEach(func(k, v []byte) error {
			sensor, n, err := decodeSeries(k, v)
			if err != nil {
				return fmt.Errorf("open %s: %w: bucket series: %v", s.path, ErrDamaged, err)
			}
			s.series[sensor] = n
			return nil
		})
	})
	if err != nil || !fresh {
		return err
	}
	random := make([]byte, 16)
	rand.Read(random)
	s.id = hex.EncodeToString(random)
	err = s.db.Update(func(tx *bolt.Tx) error {
		for _, name := range [][]byte{bucketMeta, bucketSeries, bucketReadings, bucketLedger, bucketRefused, bucketUnclaimed, bucketAside, bucketConflicts} {
			if _, err := tx.CreateBucket(name); err != nil {
				return err
			}
		}
		meta := tx.Bucket(bucketMeta)
		return errors.Join(
			meta.Put(keyFormat, []byte(strconv.Itoa(record.Format))),
			meta.Put(keyWriter, []byte(s.o.Writer)),
			meta.Put(keyID, []byte(s.id)))
	})
	if err != nil {
		return fmt.Errorf("make %s: %w: %w", s.path, ErrDisk, err)
	}
	return syncDir(filepath.Dir(s.path)) // else the file itself may be gone after a power cut
}

func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrDisk, err)
	}
	defer d.Close()
	if err := d.Sync(); err != nil {
		return fmt.Errorf("sync %s: %w: %w", dir, ErrDisk, err)
	}
	return nil
}

// ID is 128 random bits in hex, given to the file when it was made.
func (s *Store) ID() string { return s.id }

// Close waits for what is under way and closes the file. A second call is
// harmless.
func (s *Store) Close() error {
	s.writing.Lock()
	defer s.writing.Unlock()
	if s.broken == nil {
		s.broken = ErrClosed
	}
	return s.db.Close()
}
