package store

import (
	"encoding/json"
	"errors"
	"fmt"

	"go.etcd.io/bbolt"

	"lentic/store/ledger"
	"lentic/store/record"
)

// Update is ledger.Ledger's: fn's documents are on disk when it returns nil.
// It waits for other writers, and still finds room when the disk has none left
// for readings.
func (s *Store) Update(fn func(tx ledger.Tx) error) error {
	s.spare()
	return s.write(func(t *txn) error {
		return t.call(func() error { return fn(t.documents()) })
	})
}

// View is ledger.Ledger's. fn must be short: while it runs a growing file
// cannot be mapped anew, and the writer waits.
func (s *Store) View(fn func(tx ledger.Tx) error) error {
	foreign := false
	return guard(s.path, &foreign, func() error {
		tx, end, err := s.reader()
		if err != nil {
			return err
		}
		defer end()
		foreign = true
		err = fn(&documents{tx: tx, path: s.path})
		foreign = false
		return err
	})
}

// documents is a ledger.Tx over one bbolt transaction: a bucket a shelf.
type documents struct {
	tx    *bbolt.Tx
	path  string
	write *txn // nil: for reading only
}

func (t *txn) documents() *documents { return &documents{tx: t.bolt, path: t.s.path, write: t} }

// sealKey binds a document to its shelf as well as to its key.
func sealKey(shelf, key string) []byte { return []byte(shelf + "\x00" + key) }

func (d *documents) shelf(name string) *bbolt.Bucket {
	return d.tx.Bucket(ledgerBucket).Bucket([]byte(name))
}

func (d *documents) open(shelf, key string, v []byte) ([]byte, error) {
	doc, err := record.Open(sealKey(shelf, key), v)
	if err != nil {
		return nil, &Damage{File: d.path, Bucket: string(ledgerBucket) + "/" + shelf, Key: []byte(key), Err: err}
	}
	return doc, nil
}

func (d *documents) Get(shelf, key string, v any) (found bool, err error) {
	var doc []byte
	err = guard(d.path, nil, func() (err error) {
		b := d.shelf(shelf)
		if b == nil {
			return nil
		}
		sealed := b.Get([]byte(key))
		if sealed == nil {
			return nil
		}
		found = true
		doc, err = d.open(shelf, key, sealed)
		return err
	})
	if err != nil || !found {
		return found, err
	}
	if err := json.Unmarshal(doc, v); err != nil {
		return true, fmt.Errorf("document %q on shelf %q: %w", key, shelf, err)
	}
	return true, nil
}

func (d *documents) Put(shelf, key string, v any) error {
	if d.write == nil {
		return ledger.ErrReadOnly
	}
	if shelf == "" || key == "" {
		return fmt.Errorf("put document %q on shelf %q: both names are needed", key, shelf)
	}
	doc, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("put document %q on shelf %q: %w", key, shelf, err)
	}
	err = guard(d.path, nil, func() error {
		b, err := d.write.shelf(shelf)
		if err != nil {
			return err
		}
		return b.Put([]byte(key), record.Seal(nil, sealKey(shelf, key), doc))
	})
	if err != nil {
		return fmt.Errorf("put document %q on shelf %q: %w", key, shelf, err)
	}
	return nil
}

func (d *documents) Delete(shelf, key string) error {
	if d.write == nil {
		return ledger.ErrReadOnly
	}
	return guard(d.path, nil, func() error {
		if b := d.shelf(shelf); b != nil {
			return changing{b, d.write, source{string(ledgerBucket), shelf}}.Delete([]byte(key))
		}
		return nil
	})
}

// Each passes over damaged documents and returns what it found of them.
func (d *documents) Each(shelf, from, to string, fn func(key string, doc []byte) bool) error {
	foreign := false
	var damage []error
	err := guard(d.path, &foreign, func() error {
		b := d.shelf(shelf)
		if b == nil {
			return nil
		}
		c := b.Cursor()
		for k, v := c.Seek([]byte(from)); k != nil && (to == "" || string(k) < to); k, v = c.Next() {
			doc, err := d.open(shelf, string(k), v)
			if err != nil {
				damage = append(damage, err)
				continue
			}
			foreign = true
			more := fn(string(k), doc)
			foreign = false
			if !more {
				return nil
			}
		}
		return nil
	})
	return errors.Join(append(damage, err)...)
}
