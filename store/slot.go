package store

import (
	"encoding/binary"
	"math"
	"slices"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// slot is where readings from some time on belong: into a block that is there,
// or into a new one.
type slot struct {
	series uint32
	key    []byte       // of the block that is there; nil: none
	old    record.Block // its readings
	start  aquarium.Instant
	until  aquarium.Instant // the block after it begins here; no reading may
}

const forever = aquarium.Instant(math.MaxInt64)

// find is the slot for a reading of that time. A block that cannot be read is
// moved out of the way first.
func (t *txn) find(k aquarium.SensorKey, series uint32, at aquarium.Instant) (slot, error) {
	c := t.bolt.Bucket(readingsBucket).Cursor()
	key, value := floor(c, series, at)
	if key == nil {
		// Readings before the first block join it, or a backlog sent
		// newest first would make a block of each.
		key, value = ceil(c, series, at)
	}
	sl := slot{series: series, start: at, until: forever}
	if key == nil {
		return sl, nil
	}
	_, start, err := record.SplitKey(key)
	if err != nil {
		return sl, err
	}
	if next, _ := ceil(c, series, max(start, at)+1); next != nil {
		_, sl.until, _ = record.SplitKey(next)
	}
	old, err := record.DecodeBlock(nil, k, key, value)
	if err != nil {
		if err := t.quarantine(k, key, value, sl.until, err); err != nil {
			return sl, err
		}
		return t.find(k, series, at)
	}
	first, last := min(start, at), max(old[len(old)-1].At, at)
	if uint64(last-first) > record.BlockSpan {
		if at < start {
			sl.until = start
		}
		return sl, nil
	}
	sl.key, sl.old, sl.start = slices.Clone(key), old, first
	return sl, nil
}

// reach is how many of the items, rising in time, belong into the slot.
func (sl slot) reach(items []item) int {
	n := 0
	for n < len(items) && items[n].at < sl.until && uint64(items[n].at-sl.start) <= record.BlockSpan {
		n++
	}
	return n
}

// put writes the slot's readings as one block or several. Readings at the end
// fill blocks up; readings in between halve a full one, or each later one
// would leave a block of its own.
func (t *txn) put(sl slot, rs record.Block) error {
	b := t.bolt.Bucket(readingsBucket)
	size := record.BlockMax
	if n := len(rs); n > size && len(sl.old) > 0 && rs[n-1].At == sl.old[len(sl.old)-1].At {
		parts := (n + size - 1) / size
		size = (n + parts - 1) / parts
	}
	if sl.key != nil {
		if key := record.Key(sl.series, rs[0].At); string(key) != string(sl.key) {
			if err := b.Delete(sl.key); err != nil {
				return err
			}
		}
	}
	for part := range slices.Chunk(rs, size) {
		key := record.Key(sl.series, part[0].At)
		value, err := record.EncodeBlock(key, part)
		if err != nil {
			return err
		}
		if err := b.Put(key, value); err != nil {
			return err
		}
	}
	return nil
}

// quarantine moves a block that cannot be read to the bucket damaged, as it is
// and with the end of its stretch: readings for that time can be taken again,
// and whoever asks for it is told what is missing.
func (t *txn) quarantine(k aquarium.SensorKey, key, value []byte, until aquarium.Instant, cause error) error {
	key, value = slices.Clone(key), slices.Clone(value)
	_, start, err := record.SplitKey(key)
	if err != nil {
		return err
	}
	d := &Damage{File: t.s.path, Bucket: string(readingsBucket), Key: key, Sensor: k, From: start, To: until, Err: cause}
	t.s.opt.Log.Error("a damaged block of readings was put aside", "sensor", k.String(), "err", d)
	kept := binary.LittleEndian.AppendUint64(nil, uint64(until))
	b := t.bolt.Bucket(damagedBucket)
	if b.Get(key) == nil {
		if err := b.Put(key, record.Seal(nil, key, append(kept, value...))); err != nil {
			return err
		}
	}
	return t.bolt.Bucket(readingsBucket).Delete(key)
}

// floor is the series' last block that begins at or before at, or nil.
func floor(c *bbolt.Cursor, series uint32, at aquarium.Instant) (key, value []byte) {
	want := record.Key(series, at)
	k, v := c.Seek(want)
	if string(k) != string(want) {
		if k == nil {
			k, v = c.Last()
		} else {
			k, v = c.Prev()
		}
	}
	if !ofSeries(k, series) {
		return nil, nil
	}
	return k, v
}

// ceil is the series' first block that begins at or after at, or nil.
func ceil(c *bbolt.Cursor, series uint32, at aquarium.Instant) (key, value []byte) {
	k, v := c.Seek(record.Key(series, at))
	if !ofSeries(k, series) {
		return nil, nil
	}
	return k, v
}

func ofSeries(key []byte, series uint32) bool {
	return len(key) == record.KeyLen && binary.BigEndian.Uint32(key) == series
}
