package store

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"slices"

	bolt "go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// merger puts a batch's readings into the blocks of their series.
type merger struct {
	s         *Store
	replace   bool
	arrived   aquarium.Instant
	clashes   []clash
	conflicts []record.Conflict             // in the order of the batch, once merged
	numbered  map[aquarium.SensorKey]uint32 // series made by this batch
	fresh     []bool                        // by place in the batch
	out       aquarium.Outcome
}

// clash is a conflict and its place in the batch.
type clash struct {
	record.Conflict
	place int
}

// queued is a reading and its place in the batch.
type queued struct {
	aquarium.Reading
	place int
}

func (m *merger) merge(tx *bolt.Tx, rs []aquarium.Reading) (aquarium.Outcome, error) {
	m.fresh = make([]bool, len(rs))
	m.numbered = map[aquarium.SensorKey]uint32{}
	groups := map[aquarium.SensorKey][]queued{}
	var order []aquarium.SensorKey
	for i, r := range rs {
		if groups[r.Sensor] == nil {
			order = append(order, r.Sensor)
		}
		groups[r.Sensor] = append(groups[r.Sensor], queued{r, i})
	}
	for _, k := range order {
		q := groups[k]
		slices.SortStableFunc(q, func(a, b queued) int { return compareInstant(a.At, b.At) })
		n, err := m.number(tx, k)
		if err != nil {
			return aquarium.Outcome{}, err
		}
		if err := m.mergeSeries(tx.Bucket(bucketReadings), k, n, q); err != nil {
			return aquarium.Outcome{}, err
		}
	}
	for i, r := range rs {
		if m.fresh[i] {
			m.out.Fresh = append(m.out.Fresh, r)
		}
	}
	slices.SortFunc(m.clashes, func(a, b clash) int { return a.place - b.place })
	for _, c := range m.clashes {
		m.conflicts = append(m.conflicts, c.Conflict)
	}
	return m.out, nil
}

func compareInstant(a, b aquarium.Instant) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// number is the series' number, given now if it has none.
func (m *merger) number(tx *bolt.Tx, k aquarium.SensorKey) (uint32, error) {
	m.s.mu.RLock()
	n, ok := m.s.series[k]
	m.s.mu.RUnlock()
	if ok {
		return n, nil
	}
	b := tx.Bucket(bucketSeries)
	next, err := b.NextSequence()
	if err != nil {
		return 0, err
	}
	n = uint32(next)
	m.numbered[k] = n
	key := record.EncodeSensor(k)
	return n, b.Put(key, record.Seal(nil, key, binary.BigEndian.AppendUint32(nil, n)))
}

func decodeSeries(key, value []byte) (aquarium.SensorKey, uint32, error) {
	content, err := record.Open(key, value)
	if err != nil {
		return aquarium.SensorKey{}, 0, err
	}
	if len(content) != 4 {
		return aquarium.SensorKey{}, 0, record.ErrCorrupt
	}
	k, err := record.DecodeSensor(key)
	return k, binary.BigEndian.Uint32(content), err
}

// mergeSeries takes the queue run by run: as much as belongs into one block.
func (m *merger) mergeSeries(b *bolt.Bucket, k aquarium.SensorKey, n uint32, q []queued) error {
	for len(q) > 0 {
		key, block, next, err := m.blockFor(b, k, n, q[0].At)
		if err != nil {
			return err
		}
		run := len(q)
		if next != nil {
			run, _ = slices.BinarySearchFunc(q, *next, func(a queued, t aquarium.Instant) int { return compareInstant(a.At, t) })
			run = max(run, 1)
		}
		if err := m.mergeBlock(b, n, key, block, q[:run]); err != nil {
			return err
		}
		q = q[run:]
	}
	return nil
}

// blockFor is the block a reading at that time belongs into: the last one that
// begins at or before it, else the first after it if that has room, else none
// (a nil key). next is where the block after it begins, nil where none does.
func (m *merger) blockFor(b *bolt.Bucket, k aquarium.SensorKey, n uint32, at aquarium.Instant) (key []byte, block record.Block, next *aquarium.Instant, err error) {
	c := b.Cursor()
	after, value := c.Seek(record.Key(n, at))
	if bytes.Equal(after, record.Key(n, at)) {
		key, block, err = m.open(k, after, value)
		if err == nil {
			after, _ = c.Next()
			next = begins(after, n)
		}
		return key, block, next, err
	}
	next = begins(after, n)
	afterKey, afterValue := bytes.Clone(after), bytes.Clone(value)
	before, value := c.Prev()
	if after == nil {
		before, value = c.Last()
	}
	if begins(before, n) != nil {
		key, block, err = m.open(k, before, value)
		return key, block, next, err
	}
	if next == nil {
		return nil, nil, nil, nil
	}
	key, block, err = m.open(k, afterKey, afterValue)
	if err != nil || len(block) >= record.BlockMax || uint64(block[len(block)-1].At-at) > record.BlockSpan {
		return nil, nil, next, err
	}
	c.Seek(afterKey)
	after, _ = c.Next()
	return key, block, begins(after, n), nil
}

// begins is the time in a block's key, nil for one of another series.
func begins(key []byte, n uint32) *aquarium.Instant {
	if key == nil {
		return nil
	}
	series, at, err := record.SplitKey(key)
	if err != nil || series != n {
		return nil
	}
	return &at
}

func (m *merger) open(k aquarium.SensorKey, key, value []byte) ([]byte, record.Block, error) {
	rs, err := record.DecodeBlock(nil, k, key, value)
	if err != nil {
		return nil, nil, m.s.damaged(k, key, err)
	}
	return bytes.Clone(key), rs, nil
}

// mergeBlock puts a run into a block and writes it back, in as many blocks as
// it takes.
func (m *merger) mergeBlock(b *bolt.Bucket, n uint32, key []byte, block record.Block, run []queued) error {
	changed := false
	for _, q := range run {
		i, found := slices.BinarySearchFunc(block, q.At, func(r aquarium.Reading, t aquarium.Instant) int { return compareInstant(r.At, t) })
		switch {
		case !found:
			block = slices.Insert(block, i, q.Reading)
			m.fresh[q.place], changed = true, true
		case record.Same(block[i], q.Reading):
			m.out.Repeats++
		default:
			m.out.Conflicts++
			if m.replace {
				block[i] = q.Reading
				m.fresh[q.place], changed = true, true
				break
			}
			m.clashes = append(m.clashes, clash{record.Conflict{Stands: block[i], Other: q.Reading, Arrived: m.arrived}, q.place})
		}
	}
	if !changed {
		return nil
	}
	if key != nil && !bytes.Equal(key, record.Key(n, block[0].At)) {
		if err := b.Delete(key); err != nil {
			return err
		}
	}
	for len(block) > 0 {
		size := 1
		for size < min(len(block), record.BlockMax) && uint64(block[size].At-block[0].At) <= record.BlockSpan {
			size++
		}
		key := record.Key(n, block[0].At)
		value, err := record.EncodeBlock(key, block[:size])
		if err != nil {
			return fmt.Errorf("series %d: %w", n, err)
		}
		if err := b.Put(key, value); err != nil {
			return err
		}
		block = block[size:]
	}
	return nil
}

// settle makes known what the commit made true.
func (m *merger) settle() {
	m.s.mu.Lock()
	defer m.s.mu.Unlock()
	for k, n := range m.numbered {
		m.s.series[k] = n
	}
	for _, r := range m.out.Fresh {
		e, ok := m.s.edges[r.Sensor]
		if !ok {
			if _, made := m.numbered[r.Sensor]; !made {
				continue // looked up when somebody asks
			}
			e = edges{r, r}
		}
		if r.At <= e.first.At {
			e.first = r
		}
		if r.At >= e.last.At {
			e.last = r
		}
		m.s.edges[r.Sensor] = e
	}
}
