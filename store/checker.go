package store

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// checker looks at every value of a file.
type checker struct {
	path string
	Findings
	series func(number uint32) (aquarium.SensorKey, bool)
	tank   func(group uint32) aquarium.TankKey // empty: not known
	all    map[uint32]named                    // where they are known by a look at the file
	room   record.Column
	// last is the greatest sequence that the keys of each bucket, or what
	// refers to them, make use of.
	last map[string]uint64
	// sequences are those of the buckets that were met.
	sequences map[source]uint64
	// keep gets every value and what is wrong with it; nil: nobody asks.
	keep func(at source, k, v []byte, err error) error
}

func newChecker(path string) *checker {
	return &checker{path: path, last: map[string]uint64{},
		series: func(uint32) (aquarium.SensorKey, bool) { return aquarium.SensorKey{}, false },
		tank:   func(uint32) aquarium.TankKey { return aquarium.TankKey{} },
	}
}

// names makes the checker know the series by their names.
func (c *checker) names(all map[uint32]named) {
	c.all = all
	tanks := map[uint32]aquarium.TankKey{}
	for _, n := range all {
		tanks[n.group] = n.key.TankKey()
	}
	c.series = func(number uint32) (aquarium.SensorKey, bool) { n, ok := all[number]; return n.key, ok }
	c.tank = func(group uint32) aquarium.TankKey { return tanks[group] }
}

// named is a series by its number.
type named struct {
	key   aquarium.SensorKey
	group uint32
}

// entry checks one value. An error is keep's.
func (c *checker) entry(at source, k, v []byte, offset int64) error {
	c.Bytes += int64(len(k) + len(v))
	c.sum.add(at, k, v)
	err := c.value(at, k, v, offset)
	if c.keep != nil {
		return c.keep(at, k, v, err)
	}
	return nil
}

// value checks what lies under a key, notes what is wrong with it, and returns
// that too.
func (c *checker) value(at source, k, v []byte, offset int64) error {
	var err error
	switch at.bucket {
	case string(blocksBucket):
		if !isEndMark(k) {
			c.Blocks++
			return c.block(k, v, offset)
		}
		c.Records++
		err = checkEndMark(k, v)
	case string(damagedBucket):
		c.Records++
		if err = c.aside(k, v, offset); err == nil {
			return nil
		}
	case string(ledgerBucket):
		c.Documents++
		err = checkDocument(at.shelf, k, v)
	case string(rollupsBucket):
		c.Sums++
		err = checkRollup(k, v)
	default:
		c.Records++
		err = c.other(at.bucket, k, v)
	}
	if err != nil {
		c.add(&Damage{File: c.path, Bucket: at.String(), Key: slices.Clone(k), Offset: offset, Err: err})
	}
	return err
}

// other checks the values that have a seal and nothing else in common.
func (c *checker) other(bucket string, k, v []byte) error {
	if bucket == string(logBucket) {
		return c.log(k, v)
	}
	content, err := record.Open(k, v)
	if err != nil {
		return err
	}
	switch bucket {
	case string(metaBucket):
	case string(seriesBucket):
		_, _, err = openSeries(k, v)
	case string(boundsBucket):
		_, err = record.DecodeBounds(content)
	case string(conflictsBucket):
		c.uses(bucket, k)
		_, err = record.DecodeConflict(content)
	case string(asideBucket):
		c.uses(bucket, k)
		_, err = record.DecodeAside(content)
	case string(unclaimedBucket):
		c.uses(bucket, k)
		_, err = record.DecodeUnclaimed(content)
	case string(refusedBucket):
		c.uses(bucket, k)
		_, err = record.DecodeRefusal(content)
	default:
		err = errors.New("in a bucket that is none of lentic's")
	}
	return err
}

// uses notes the sequence that a key ends in.
func (c *checker) uses(bucket string, k []byte) {
	if len(k) >= 8 {
		c.last[bucket] = max(c.last[bucket], binary.BigEndian.Uint64(k[len(k)-8:]))
	}
}

func (c *checker) log(k, v []byte) error {
	if _, err := record.SplitLogKey(k); err != nil {
		return err
	}
	var unnamed error
	err := decodeLog(k, v, func(l record.Logged) {
		if _, ok := c.series(l.Series); !ok {
			unnamed = noSeries(l.Series)
		}
	})
	if err == nil {
		c.uses(string(logBucket), k)
	}
	return errors.Join(err, unnamed)
}

func noSeries(number uint32) error { return fmt.Errorf("no sensor has the series %d", number) }

// aside names readings that have been put aside.
func (c *checker) aside(k, v []byte, offset int64) error {
	content, err := record.Open(k, v)
	if err != nil {
		return err
	}
	number, start, err := record.SplitKey(k)
	if err != nil {
		return err
	}
	if len(content) < 8 {
		return fmt.Errorf("%w: cut off", record.ErrCorrupt)
	}
	until := aquarium.Instant(binary.LittleEndian.Uint64(content))
	sensor, _ := c.series(number)
	c.putAside(&Damage{File: c.path, Bucket: string(damagedBucket), Key: slices.Clone(k), Offset: offset, Sensor: sensor, From: start, To: until, Err: errPutAside})
	return nil
}

func checkRollup(k, v []byte) error {
	if _, _, err := splitRollupKey(k); err != nil {
		return err
	}
	_, err := record.DecodeRollups(k, v, 0)
	return err
}

// splitRollupKey gives the level of sums, and where the value begins.
func splitRollupKey(k []byte) (level, aquarium.Instant, error) {
	for _, l := range slices.Concat([]level{minutes}, levels, olderLevels) {
		if len(k) > 1 && k[0] == l.number {
			start, _, err := record.SplitBlockKey(k[1:])
			return l, start, err
		}
	}
	return level{}, 0, fmt.Errorf("%w: sums of no level", record.ErrCorrupt)
}

func checkDocument(shelf string, k, v []byte) error {
	doc, err := record.Open(sealKey(shelf, string(k)), v)
	if err == nil && !json.Valid(doc) {
		err = fmt.Errorf("%w: not JSON", record.ErrCorrupt)
	}
	return err
}

// block reads every column of a block.
func (c *checker) block(k, v []byte, offset int64) error {
	start, group, err := record.SplitBlockKey(k)
	lost := func(sensor aquarium.SensorKey, err error) {
		c.add(&Damage{File: c.path, Bucket: string(blocksBucket), Key: slices.Clone(k), Offset: offset, Sensor: sensor, From: start, To: start.Add(stretch), Err: err})
	}
	var b *record.Block
	if err == nil {
		b, err = record.OpenBlock(k, v)
	}
	if err == nil && start != stretchOf(group, start) {
		err = fmt.Errorf("%w: begins where no block of its group does", record.ErrCorrupt)
	}
	if err != nil {
		tank := c.tank(group)
		lost(aquarium.SensorKey{Site: tank.Site, Tank: tank.Tank}, err)
		return err
	}
	c.last[string(logBucket)] = max(c.last[string(logBucket)], b.Through)
	var first error
	for _, p := range b.Columns {
		sensor, ok := c.series(p.Series)
		col, err := b.Column(p, c.room)
		if err == nil {
			c.room = col
			c.Readings += int64(len(col.Times))
			err = within(col, start)
		}
		if err == nil && !ok {
			err = noSeries(p.Series)
		}
		if err != nil {
			lost(sensor, err)
			first = err
		}
	}
	return first
}

// sequence checks that a bucket goes on counting after what it has: a number
// given twice would write over what is there.
func (c *checker) sequence(bucket string, next uint64) {
	if used := c.last[bucket]; next < used {
		c.add(&Damage{File: c.path, Bucket: bucket, Err: fmt.Errorf("its sequence is %d, and %d is in use", next, used)})
	}
}
