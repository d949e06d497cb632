package store

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// Check reads the whole file, page by page and then value by value, and
// returns all it found, each an ErrDamaged, or nil. It takes some seconds for
// each gigabyte, and meanwhile a file that must grow waits: it is for a quiet
// hour or a stopped daemon.
func (s *Store) Check() error {
	var tx *bbolt.Tx
	var meta metaPage
	err := guard(s.path, nil, func() (err error) {
		// While the writer stands still its last meta page is ours.
		s.writing.Lock()
		defer s.writing.Unlock()
		if tx, err = s.db.Begin(false); err != nil {
			return fmt.Errorf("%s: %w: %w", s.path, ErrClosed, err)
		}
		meta, err = metaOf(s.path)
		return err
	})
	if tx != nil {
		defer tx.Rollback()
	}
	if err != nil {
		return fmt.Errorf("check database: %w", err)
	}
	// A read transaction keeps the pages it can see from being written over.
	if err := verifyTx(s.path, whole, func(m metaPage) bool { return m == meta }); err != nil {
		return err
	}
	c := &checker{s: s}
	c.found = append(c.found, s.damage...)
	if err := guard(s.path, nil, func() error { c.values(tx); return nil }); err != nil {
		c.found = append(c.found, err)
	}
	return errors.Join(c.found...)
}

// mostFound bounds what Check lists: a ruined file would fill the screen.
const mostFound = 1000

type checker struct {
	s     *Store
	found []error
}

func (c *checker) add(d *Damage) {
	if len(c.found) < mostFound {
		d.File, d.Key = c.s.path, slices.Clone(d.Key)
		c.found = append(c.found, d)
	}
}

func (c *checker) values(tx *bbolt.Tx) {
	c.readings(tx)
	for _, shelf := range []struct {
		bucket []byte
		decode func([]byte) error
	}{
		{metaBucket, func([]byte) error { return nil }},
		{damagedBucket, func([]byte) error { return errPutAside }},
		{conflictsBucket, func(b []byte) error { _, err := record.DecodeConflict(b); return err }},
		{asideBucket, func(b []byte) error { _, err := record.DecodeAside(b); return err }},
		{unclaimedBucket, func(b []byte) error { _, err := record.DecodeUnclaimed(b); return err }},
		{refusedBucket, func(b []byte) error { _, err := record.DecodeRefusal(b); return err }},
	} {
		c.each(tx.Bucket(shelf.bucket), func(k, v []byte) {
			content, err := record.Open(k, v)
			if err == nil {
				err = shelf.decode(content)
			}
			if err != nil {
				c.add(&Damage{Bucket: string(shelf.bucket), Key: k, Err: err})
			}
		})
	}
	c.documents(tx)
}

func (c *checker) each(b *bbolt.Bucket, fn func(k, v []byte)) {
	cur := b.Cursor()
	for k, v := cur.First(); k != nil; k, v = cur.Next() {
		fn(k, v)
	}
}

func (c *checker) readings(tx *bbolt.Tx) {
	names := map[uint32]aquarium.SensorKey{}
	c.each(tx.Bucket(seriesBucket), func(k, v []byte) {
		if sensor, id, err := openSeries(k, v); err == nil {
			names[id] = sensor
		}
	})
	var before aquarium.Reading // the last of the block before
	var beforeID uint32
	c.each(tx.Bucket(readingsBucket), func(k, v []byte) {
		id, start, err := record.SplitKey(k)
		sensor, named := names[id]
		var rs []aquarium.Reading
		if err == nil {
			rs, err = record.DecodeBlock(nil, sensor, k, v)
		}
		switch {
		case err != nil:
		case !named:
			err = fmt.Errorf("no sensor has the series %d", id)
		case beforeID == id && rs[0].At <= before.At:
			err = fmt.Errorf("begins before the block before it ends")
		}
		if err != nil {
			c.add(&Damage{Bucket: string(readingsBucket), Key: k, Sensor: sensor, From: start, Err: err})
			return
		}
		before, beforeID = rs[len(rs)-1], id
	})
}

func (c *checker) documents(tx *bbolt.Tx) {
	d := &documents{tx: tx, path: c.s.path}
	top := tx.Bucket(ledgerBucket)
	c.each(top, func(shelf, _ []byte) {
		b := top.Bucket(shelf)
		if b == nil {
			c.add(&Damage{Bucket: string(ledgerBucket), Key: shelf, Err: errors.New("not a shelf")})
			return
		}
		c.each(b, func(k, v []byte) {
			doc, err := d.open(string(shelf), string(k), v)
			if err == nil && !json.Valid(doc) {
				err = errors.New("not JSON")
			}
			if err != nil {
				c.add(&Damage{Bucket: string(ledgerBucket) + "/" + string(shelf), Key: k, Err: err})
			}
		})
	})
}
