package store

import (
	"fmt"
	"slices"

	"lentic/store/record"
)

// bbolt keeps up to four entries of a bucket together however long they are, and
// divides more than that in twos: the last leaf of blocks would have three or
// four, and all of them be written again, elsewhere, with the next. So behind the
// last block lie end marks, tiny entries that move along: the blocks before them
// are then left where they are, and all that is written is new.
const endMarks = 3

// endMark is the n-th mark behind a block.
func endMark(block []byte, n int) []byte {
	return append(slices.Clip(block), byte(n))
}

// isEndMark tells such a key.
func isEndMark(k []byte) bool { return len(k) == record.KeyLen+1 }

func checkEndMark(k, v []byte) error {
	content, err := record.Open(k, v)
	if err == nil && len(content) > 0 {
		err = fmt.Errorf("%w: an end mark of %d bytes", record.ErrCorrupt, len(content))
	}
	return err
}

// putBlocks runs put, which puts blocks, and moves the end marks behind the last.
func (t *txn) putBlocks(put func() error) error {
	b := t.bucket(blocksBucket)
	b.FillPercent = 1 // blocks come in order of time
	var old [][]byte
	c := b.Cursor()
	for k, _ := c.Last(); isEndMark(k); k, _ = c.Prev() {
		old = append(old, slices.Clone(k))
	}
	if err := put(); err != nil {
		return err
	}
	last, _ := b.Cursor().Last()
	if last == nil || isEndMark(last) {
		return nil // nothing came behind them
	}
	last = slices.Clone(last)
	if err := deleteAll(b, old); err != nil {
		return err
	}
	for n := range endMarks {
		key := endMark(last, n)
		if err := b.Put(key, record.Seal(nil, key, nil)); err != nil {
			return err
		}
	}
	return nil
}
