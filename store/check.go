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
	if err := verifyFrom(s.path, meta, whole); err != nil {
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
	names := map[uint32]aquarium.SensorKey{}
	sealedBy := func(fn func([]byte) error) func(k, v []byte) error {
		return func(k, v []byte) error {
			content, err := record.Open(k, v)
			if err != nil {
				return err
			}
			return fn(content)
		}
	}
	for _, shelf := range []struct {
		bucket []byte
		check  func(k, v []byte) error
	}{
		{seriesBucket, func(k, v []byte) error {
			x, _, err := openSeries(k, v)
			if err == nil {
				names[x.number] = x.key
			}
			return err
		}},
		{metaBucket, sealedBy(func([]byte) error { return nil })},
		{boundsBucket, sealedBy(func(b []byte) error { _, err := record.DecodeBounds(b); return err })},
		{logBucket, func(k, v []byte) error { return checkLog(k, v, names) }},
		{damagedBucket, sealedBy(func([]byte) error { return errPutAside })},
		{conflictsBucket, sealedBy(func(b []byte) error { _, err := record.DecodeConflict(b); return err })},
		{asideBucket, sealedBy(func(b []byte) error { _, err := record.DecodeAside(b); return err })},
		{unclaimedBucket, sealedBy(func(b []byte) error { _, err := record.DecodeUnclaimed(b); return err })},
		{refusedBucket, sealedBy(func(b []byte) error { _, err := record.DecodeRefusal(b); return err })},
		{rollupsBucket, func(k, v []byte) error { _, err := record.DecodeRollups(k, v, 0); return err }},
	} {
		c.each(tx.Bucket(shelf.bucket), func(k, v []byte) {
			if err := shelf.check(k, v); err != nil {
				c.add(&Damage{Bucket: string(shelf.bucket), Key: k, Err: err})
			}
		})
	}
	c.each(tx.Bucket(blocksBucket), func(k, v []byte) { c.block(k, v, names) })
	c.documents(tx)
}

func (c *checker) each(b *bbolt.Bucket, fn func(k, v []byte)) {
	cur := b.Cursor()
	for k, v := cur.First(); k != nil; k, v = cur.Next() {
		fn(k, v)
	}
}

func checkLog(k, v []byte, names map[uint32]aquarium.SensorKey) error {
	if _, err := record.SplitLogKey(k); err != nil {
		return err
	}
	var unnamed error
	err := decodeLog(k, v, func(l record.Logged) {
		if _, ok := names[l.Series]; !ok {
			unnamed = fmt.Errorf("no sensor has the series %d", l.Series)
		}
	})
	return errors.Join(err, unnamed)
}

// block reads every column of a block.
func (c *checker) block(k, v []byte, names map[uint32]aquarium.SensorKey) {
	start, group, err := record.SplitBlockKey(k)
	lost := func(series uint32, err error) {
		c.add(&Damage{Bucket: string(blocksBucket), Key: k, Sensor: names[series], From: start, To: start.Add(stretch), Err: err})
	}
	var b *record.Block
	if err == nil {
		b, err = record.OpenBlock(k, v)
	}
	if err == nil && start != stretchOf(group, start) {
		err = errors.New("begins where no block of its group does")
	}
	if err != nil {
		lost(0, err)
		return
	}
	for _, p := range b.Columns {
		col, err := b.Column(p, record.Column{})
		_, named := names[p.Series]
		switch {
		case err != nil:
		case !named:
			err = fmt.Errorf("no sensor has the series %d", p.Series)
		default:
			err = within(col, start)
		}
		if err != nil {
			lost(p.Series, err)
		}
	}
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
