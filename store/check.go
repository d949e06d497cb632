package store

import (
	"bytes"
	"errors"
	"fmt"
	"os"

	bolt "go.etcd.io/bbolt"
	"golang.org/x/sys/unix"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
	"lentic/store/record"
)

// complaintsMax bounds what Check lists: a file that is damaged all over needs
// no more than that to be believed.
const complaintsMax = 100

// Check walks everything and returns what is damaged, each place named, or nil.
// Intake may go on meanwhile.
func (s *Store) Check() error {
	c := &checking{s: s}
	c.readings()
	c.take(each(s, bucketRefused, record.DecodeRefusal, func([]byte, aquarium.Refusal) {}))
	c.take(each(s, bucketUnclaimed, record.DecodeUnclaimed, func([]byte, aquarium.Unclaimed) {}))
	c.take(each(s, bucketAside, record.DecodeAside, func([]byte, aquarium.Aside) {}))
	c.take(each(s, bucketConflicts, record.DecodeConflict, func([]byte, record.Conflict) {}))
	c.take(s.View(func(tx ledger.Tx) error { return c.documents(tx.(*docs)) }))
	c.take(s.view("check pages", func(tx *bolt.Tx) error {
		for err := range tx.Check() { // to its end, or its goroutine stays
			c.take(fmt.Errorf("%s: %w: %w", s.path, ErrDamaged, err))
		}
		return nil
	}))
	return errors.Join(c.complaints...)
}

type checking struct {
	s          *Store
	complaints []error
}

func (c *checking) take(err error) {
	if err != nil && len(c.complaints) < complaintsMax {
		c.complaints = append(c.complaints, err)
	}
}

// readings opens every block there is, also those of a series that nobody
// knows, which no window would ever come by.
func (c *checking) readings() {
	names := map[uint32]aquarium.SensorKey{}
	c.s.mu.RLock()
	for k, n := range c.s.series {
		names[n] = k
	}
	c.s.mu.RUnlock()
	var rs []aquarium.Reading
	for next := []byte{}; next != nil; {
		start := next
		next = nil
		c.take(c.s.view("check readings", func(tx *bolt.Tx) error {
			cur := tx.Bucket(bucketReadings).Cursor()
			count := 0
			for key, value := cur.Seek(start); key != nil; key, value = cur.Next() {
				if count++; count > blocksAtOnce {
					next = bytes.Clone(key)
					return nil
				}
				n, _, err := record.SplitKey(key)
				name, known := names[n]
				if err == nil && !known {
					err = fmt.Errorf("no sensor has the number %d", n)
				}
				if err == nil {
					rs, err = record.DecodeBlock(rs[:0], name, key, value)
				}
				if err != nil {
					c.take(c.s.damaged(name, key, err))
				}
			}
			return nil
		}))
	}
}

func (c *checking) documents(d *docs) error {
	return d.tx.Bucket(bucketLedger).ForEachBucket(func(name []byte) error {
		return d.shelf(string(name)).ForEach(func(k, v []byte) error {
			_, err := d.open(string(name), bytes.Clone(k), v)
			c.take(err)
			return nil
		})
	})
}

// FreeSpace is what the file system of the database has left for us, and has
// in all, in bytes.
func (s *Store) FreeSpace() (free, total uint64, err error) {
	var st unix.Statfs_t
	if err := unix.Statfs(s.path, &st); err != nil {
		return 0, 0, fmt.Errorf("space for %s: %w", s.path, err)
	}
	return st.Bavail * uint64(st.Bsize), st.Blocks * uint64(st.Bsize), nil
}

// Size is the database's size in bytes.
func (s *Store) Size() int64 {
	info, err := os.Stat(s.path)
	if err != nil {
		return 0
	}
	return info.Size()
}
