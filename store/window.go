package store

import (
	"encoding/binary"
	"errors"
	"slices"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// blocksAtOnce bounds a read transaction: 64 blocks are at most 8,192 readings
// and far less than a millisecond of work in memory.
const blocksAtOnce = 64

// Window gives fn the sensor's readings with from <= At < to, oldest first,
// until it returns false. No readings, or no such sensor, is not an error. fn
// is called outside of any transaction and may take its time and write; a
// reading stored meanwhile may or may not be seen.
//
// Where a block is damaged the readings before and after it are given all the
// same, and ErrDamaged is returned at the end for the stretch that is missing.
func (s *Store) Window(k aquarium.SensorKey, from, to aquarium.Instant, fn func(aquarium.Reading) bool) error {
	id, ok := s.seriesID(k)
	if !ok {
		return nil
	}
	w := window{s: s, sensor: k, series: id, from: from, to: to}
	if err := s.read(w.missing); err != nil {
		return errors.Join(append(w.damage, err)...)
	}
	for w.from < w.to {
		w.readings = w.readings[:0]
		if err := s.read(w.stretch); err != nil {
			return errors.Join(append(w.damage, err)...)
		}
		for _, r := range w.readings {
			if !fn(r) {
				return errors.Join(w.damage...)
			}
		}
	}
	return errors.Join(w.damage...)
}

// window is how far one Window has come.
type window struct {
	s        *Store
	sensor   aquarium.SensorKey
	series   uint32
	from, to aquarium.Instant
	readings []aquarium.Reading
	damage   []error
}

// stretch reads the next few blocks and moves from behind them.
func (w *window) stretch(tx *bbolt.Tx) error {
	c := tx.Bucket(readingsBucket).Cursor()
	key, value := floor(c, w.series, w.from)
	if key == nil {
		key, value = ceil(c, w.series, w.from)
	}
	for n := 0; ; n++ {
		start, err := w.start(key)
		if err != nil {
			return err
		}
		if start >= w.to {
			w.from = w.to
			return nil
		}
		if n == blocksAtOnce {
			w.from = max(w.from, start)
			return nil
		}
		nextKey, nextValue := c.Next()
		if err := w.block(key, value, start, nextKey); err != nil {
			return err
		}
		key, value = nextKey, nextValue
	}
}

// start is when the block begins; no block of ours begins never.
func (w *window) start(key []byte) (aquarium.Instant, error) {
	if !ofSeries(key, w.series) {
		return forever, nil
	}
	_, start, err := record.SplitKey(key)
	return start, err
}

func (w *window) block(key, value []byte, start aquarium.Instant, nextKey []byte) error {
	had := len(w.readings)
	var err error
	if w.readings, err = record.DecodeBlock(w.readings, w.sensor, key, value); err != nil {
		until, err2 := w.start(nextKey)
		if err2 != nil {
			return err2
		}
		if until > w.from {
			w.lost(readingsBucket, key, start, until, err)
		}
		return nil
	}
	rs := w.readings[had:]
	i, _ := slices.BinarySearchFunc(rs, w.from, byTime)
	j, _ := slices.BinarySearchFunc(rs, w.to, byTime)
	w.readings = append(w.readings[:had], rs[i:j]...)
	return nil
}

// missing finds the blocks that were put aside.
func (w *window) missing(tx *bbolt.Tx) error {
	c := tx.Bucket(damagedBucket).Cursor()
	for k, v := c.Seek(seriesKey(w.series)); ofSeries(k, w.series); k, v = c.Next() {
		start, err := w.start(k)
		if err != nil {
			return err
		}
		until := forever
		if kept, err := record.Open(k, v); err == nil && len(kept) >= 8 {
			until = aquarium.Instant(binary.LittleEndian.Uint64(kept))
		}
		if start < w.to && until > w.from {
			w.lost(damagedBucket, k, start, until, errPutAside)
		}
	}
	return nil
}

var errPutAside = errors.New("the block was damaged and has been put aside")

func (w *window) lost(bucket, key []byte, from, until aquarium.Instant, err error) {
	if until == forever {
		until = 0
	}
	w.damage = append(w.damage, &Damage{
		File: w.s.path, Bucket: string(bucket), Key: slices.Clone(key), Sensor: w.sensor, From: from, To: until, Err: err,
	})
}

func byTime(r aquarium.Reading, at aquarium.Instant) int {
	switch {
	case r.At < at:
		return -1
	case r.At > at:
		return 1
	}
	return 0
}
