package main

import (
	"encoding/binary"
	"errors"
	"fmt"
	"os"

	"go.etcd.io/bbolt"
)

// Where things lie in a bbolt file, layout version 2: a page begins with its
// number (8 bytes), flags (2), count (2) and overflow (4); a meta page goes on
// with magic, version, page size, flags (4 each), root (16), free list (8),
// high water mark (8), transaction (8) and checksum.
const (
	pageHeader   = 16
	metaFreelist = pageHeader + 32
	metaTxn      = pageHeader + 48
	manyCount    = 0xFFFF // then the true count follows the header
)

// freePages reads how many pages are free from the file itself, beside the
// process that has it open.
func freePages(f *os.File) (uint64, error) {
	page := int64(os.Getpagesize())
	var head [pageHeader + 64]byte
	var list, newest uint64
	for n := range int64(2) {
		if _, err := f.ReadAt(head[:], n*page); err != nil {
			return 0, err
		}
		if txn := binary.LittleEndian.Uint64(head[metaTxn:]); n == 0 || txn > newest {
			newest, list = txn, binary.LittleEndian.Uint64(head[metaFreelist:])
		}
	}
	if _, err := f.ReadAt(head[:pageHeader+8], int64(list)*page); err != nil {
		return 0, err
	}
	count := uint64(binary.LittleEndian.Uint16(head[10:]))
	if count == manyCount {
		count = binary.LittleEndian.Uint64(head[pageHeader:])
	}
	return count, nil
}

// contents is how many bytes of keys and values a file has, by bucket, and
// those of `rollups` by level too.
type contents map[string]int64

func (c contents) all() (n int64) {
	for name, bytes := range c {
		if len(name) < len("rollups/") || name[:len("rollups/")] != "rollups/" {
			n += bytes
		}
	}
	return n
}

// inspect reads a file that nobody has open.
func inspect(path string) (c contents, err error) {
	db, err := bbolt.Open(path, 0o600, &bbolt.Options{ReadOnly: true})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	c = contents{}
	return c, db.View(func(tx *bbolt.Tx) error {
		return tx.ForEach(func(name []byte, b *bbolt.Bucket) error {
			return c.count(string(name), b)
		})
	})
}

func (c contents) count(name string, b *bbolt.Bucket) error {
	return b.ForEach(func(k, v []byte) error {
		if v == nil { // a bucket in it
			return c.count(name, b.Bucket(k))
		}
		n := int64(len(k) + len(v))
		c[name] += n
		if name == "rollups" {
			c[fmt.Sprintf("rollups/%d", k[0])] += n
		}
		return nil
	})
}
