package store

import (
	"cmp"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"strconv"

	"go.etcd.io/bbolt"

	"lentic/store/record"
)

// Keys of the bucket meta. Their values are sealed text in every format, so
// that any version can tell what it must not touch.
var (
	formatKey  = []byte("format")
	writerKey  = []byte("writer")
	createdKey = []byte("created-by")
	idKey      = []byte("id")
)

func writeMeta(tx *bbolt.Tx, writer string) error {
	for _, name := range buckets {
		if _, err := tx.CreateBucketIfNotExists(name); err != nil {
			return err
		}
	}
	id := make([]byte, 16)
	if _, err := rand.Read(id); err != nil {
		return err
	}
	for _, kv := range []struct {
		key  []byte
		text string
	}{
		{formatKey, strconv.Itoa(record.Format)},
		{writerKey, writer},
		{createdKey, writer},
		{idKey, hex.EncodeToString(id)},
	} {
		if err := putMeta(tx, kv.key, kv.text); err != nil {
			return err
		}
	}
	return nil
}

// errOlder: an older lentic wrote the file. Opening it for writing makes it one
// of the present format.
var errOlder = errors.New("written by an older lentic: start the daemon once, which brings it up to date")

func putMeta(tx *bbolt.Tx, key []byte, text string) error {
	return tx.Bucket(metaBucket).Put(key, record.Seal(nil, key, []byte(text)))
}

func (t *txn) putMeta(key []byte, text string) error {
	return t.bucket(metaBucket).Put(key, record.Seal(nil, key, []byte(text)))
}

// stamp is what a file says of itself.
type stamp struct{ format, id, writer string }

// readMeta checks that the file is one this version can use, and gives its
// stamp. It changes nothing.
func readMeta(tx *bbolt.Tx, path string) (st stamp, err error) {
	b := tx.Bucket(metaBucket)
	if b == nil || b.Get(formatKey) == nil {
		return st, errUnstamped(path)
	}
	text := func(key []byte) string {
		v, e := record.Open(key, b.Get(key))
		if e != nil && err == nil {
			err = &Damage{File: path, Bucket: string(metaBucket), Key: key, Err: e}
		}
		return string(v)
	}
	st.format, st.writer = text(formatKey), text(writerKey)
	if err != nil {
		return st, err
	}
	if err := checkFormat(path, st.format, st.writer); err != nil {
		return st, err
	}
	for _, name := range buckets {
		if tx.Bucket(name) == nil {
			return st, &Damage{File: path, Bucket: string(name), Err: fmt.Errorf("the bucket is not there")}
		}
	}
	st.id = text(idKey)
	return st, err
}

// restamp says in the file who writes to it from now on, and in which format.
func (s *Store) restamp(was stamp) error {
	writer, format := cmp.Or(s.opt.Writer, was.writer), strconv.Itoa(record.Format)
	if writer == was.writer && format == was.format {
		return nil
	}
	return s.write(func(t *txn) error {
		return errors.Join(t.putMeta(writerKey, writer), t.putMeta(formatKey, format))
	})
}

func errUnstamped(path string) error {
	return fmt.Errorf("%s: %w: a bbolt file without lentic's stamp: give another path or move it away", path, ErrNotOurs)
}

// checkFormat says whether this version reads files of that format.
func checkFormat(path, format, writer string) error {
	n, err := strconv.Atoi(format)
	switch {
	case err != nil || n < 1:
		return &Damage{File: path, Bucket: string(metaBucket), Key: formatKey, Err: fmt.Errorf("format %q", format)}
	case n > record.Format:
		return fmt.Errorf("%s: %w: format %d by %s, this one reads up to %d: use that version, whose export any version can import; the file is untouched",
			path, ErrNewerFormat, n, writer, record.Format)
	case n < record.OldestRead:
		return fmt.Errorf("%s: format %d: %w", path, n, errOlder)
	}
	return nil
}
