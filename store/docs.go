package store

import (
	"bytes"
	"encoding/json"
	"fmt"

	bolt "go.etcd.io/bbolt"

	"lentic/store/ledger"
	"lentic/store/record"
)

// View runs fn over a consistent state of the documents.
func (s *Store) View(fn func(tx ledger.Tx) error) error {
	var failed error
	err := s.view("read documents", func(tx *bolt.Tx) error {
		failed = fn(&docs{tx: tx, path: s.path})
		return nil
	})
	if failed != nil {
		return failed
	}
	return err
}

// docs is a ledger.Tx within a transaction of the file: a shelf is a bucket,
// a document sealed JSON.
type docs struct {
	tx    *bolt.Tx
	write bool
	path  string
}

// sealKey is what a document's checksum covers beside it: a document found on
// another shelf is damage, not a document.
func sealKey(shelf, key string) []byte { return []byte(shelf + "\x00" + key) }

func (d *docs) shelf(name string) *bolt.Bucket {
	return d.tx.Bucket(bucketLedger).Bucket([]byte(name))
}

func (d *docs) open(shelf string, key, value []byte) ([]byte, error) {
	doc, err := record.Open(sealKey(shelf, string(key)), value)
	if err != nil {
		return nil, fmt.Errorf("%s: bucket ledger/%s: document %q: %w: %w", d.path, shelf, key, ErrDamaged, err)
	}
	return doc, nil
}

func (d *docs) Get(shelf, key string, v any) (bool, error) {
	b := d.shelf(shelf)
	if b == nil {
		return false, nil
	}
	value := b.Get([]byte(key))
	if value == nil {
		return false, nil
	}
	doc, err := d.open(shelf, []byte(key), value)
	if err != nil {
		return true, err
	}
	if err := json.Unmarshal(doc, v); err != nil {
		return true, fmt.Errorf("document %q on shelf %q: %w", key, shelf, err)
	}
	return true, nil
}

func (d *docs) Put(shelf, key string, v any) error {
	if !d.write {
		return ledger.ErrReadOnly
	}
	if shelf == "" || key == "" {
		return fmt.Errorf("put document %q on shelf %q: both names are needed", key, shelf)
	}
	doc, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("put document %q on shelf %q: %w", key, shelf, err)
	}
	b, err := d.tx.Bucket(bucketLedger).CreateBucketIfNotExists([]byte(shelf))
	if err != nil {
		return fmt.Errorf("put document %q on shelf %q: %w", key, shelf, err)
	}
	return b.Put([]byte(key), record.Seal(nil, sealKey(shelf, key), doc))
}

func (d *docs) Delete(shelf, key string) error {
	if !d.write {
		return ledger.ErrReadOnly
	}
	b := d.shelf(shelf)
	if b == nil {
		return nil
	}
	return b.Delete([]byte(key))
}

func (d *docs) Each(shelf, from, to string, fn func(key string, doc []byte) bool) error {
	b := d.shelf(shelf)
	if b == nil {
		return nil
	}
	c := b.Cursor()
	for k, v := c.Seek([]byte(from)); k != nil && (to == "" || bytes.Compare(k, []byte(to)) < 0); k, v = c.Next() {
		doc, err := d.open(shelf, k, v)
		if err != nil {
			return err
		}
		if !fn(string(k), doc) {
			return nil
		}
	}
	return nil
}
