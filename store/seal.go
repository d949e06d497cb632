package store

import (
	"cmp"
	"encoding/binary"
	"maps"
	"slices"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// sealing is one stretch of a group on its way from the log into a block. What
// is slow, decoding and encoding, is done before the transaction that writes
// it, so that intake waits no longer than for any other commit.
type sealing struct {
	s       *Store
	p       *pending
	group   uint32
	start   aquarium.Instant
	key     []byte
	through uint64
	n       int // of the pending readings when they were copied
	columns []record.Column
	damage  []quarantined
	value   []byte
	// forgotten: the block's readings were deleted for their age, and sums
	// are all that remains of them. added are those that have come since.
	forgotten bool
	added     []record.Column
}

// quarantined is a column, or a whole block, that cannot be read.
type quarantined struct {
	series uint32 // 0: the block
	bytes  []byte
}

// seal puts what is pending of stretches into their blocks, together with what
// is there already, in one transaction. It reports false where readings came
// in between: then it is to be tried again later.
func (s *Store) seal(ps ...*pending) (bool, error) {
	sums := newRollups(s)
	js := make([]*sealing, len(ps))
	for i, p := range ps {
		var err error
		if js[i], err = s.prepare(p, nil, sums); err != nil {
			return false, err
		}
	}
	return s.commit(js, sums)
}

// prepare encodes a stretch as it will be. What is imported gives way to what
// is there already, or takes its place, as it says; where it is all there, there
// is nothing to be sealed, and that is nil.
func (s *Store) prepare(p *pending, in *imported, sums *rollups) (*sealing, error) {
	j := &sealing{
		s: s, p: p, group: p.group.number, start: p.start, key: record.BlockKey(p.start, p.group.number),
		forgotten: p.end() <= s.horizon(s.opt.Keep),
	}
	heads := j.copy(p)
	err := s.read(func(tx *bbolt.Tx) error {
		if err := j.merge(tx, heads, in); err != nil || in != nil && in.known() {
			return err
		}
		return sums.fold(tx, j)
	})
	if err != nil || in != nil && in.known() {
		return nil, err
	}
	j.value = record.EncodeBlock(j.key, j.through, j.columns)
	return j, nil
}

// commit writes stretches that were prepared, and the sums that go with them.
func (s *Store) commit(js []*sealing, sums *rollups) (done bool, err error) {
	rows := sums.encode()
	err = s.write(func(t *txn) error {
		for _, j := range js {
			now := j.p.group.open[j.start]
			if j.p.n != j.n || now != j.p && now != nil {
				return nil
			}
		}
		done = true
		err := t.putBlocks(func() error {
			for _, j := range js {
				if err := j.put(t); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
		b := t.bucket(rollupsBucket)
		for _, key := range slices.Sorted(maps.Keys(rows)) {
			if err := b.Put([]byte(key), rows[key]); err != nil {
				return err
			}
		}
		if err := bound(t, js); err != nil {
			return err
		}
		last := t.bucket(logBucket).Sequence()
		t.after = append(t.after, func() { s.needs(last) })
		return nil
	})
	return done && err == nil, err
}

// copy takes what is pending as columns, one set for each series.
func (j *sealing) copy(p *pending) map[uint32][]record.Column {
	j.s.rlock()
	defer j.s.mu.RUnlock()
	j.through, j.n = p.lastSeq, p.n
	cols := make(map[uint32][]record.Column, len(p.heads))
	for number, h := range p.heads {
		cols[number] = h.columns(number)
	}
	return cols
}

// merge lays what is pending over what the block has.
func (j *sealing) merge(tx *bbolt.Tx, heads map[uint32][]record.Column, in *imported) error {
	old := map[uint32][]record.Column{}
	if value := tx.Bucket(blocksBucket).Get(j.key); value != nil {
		b, err := record.OpenBlock(j.key, value)
		if err != nil {
			j.damage = append(j.damage, quarantined{0, slices.Clone(value)})
		} else {
			j.through = max(j.through, b.Through)
			for _, p := range b.Columns {
				c, err := b.Column(p, record.Column{})
				if err != nil {
					j.damage = append(j.damage, quarantined{p.Series, slices.Clone(b.Sealed(p))})
					continue
				}
				old[p.Series] = append(old[p.Series], c)
			}
		}
	} else if in != nil && j.forgotten {
		if err := in.findCounted(tx, j); err != nil {
			return err
		}
	}
	numbers := slices.Collect(maps.Keys(heads))
	for number := range old {
		if heads[number] == nil {
			numbers = append(numbers, number)
		}
	}
	if in != nil {
		numbers = append(numbers, slices.Collect(maps.Keys(in.heads))...)
	}
	slices.Sort(numbers)
	for _, number := range slices.Compact(numbers) {
		cols := overlayColumns(number, old[number], heads[number], nil)
		if in != nil {
			cols = in.over(number, cols)
		}
		j.columns = append(j.columns, cols...)
		if j.forgotten {
			j.added = append(j.added, without(number, cols, old[number])...)
		}
	}
	return nil
}

// put writes the block.
func (j *sealing) put(t *txn) error {
	for _, q := range j.damage {
		if err := j.quarantine(t, q); err != nil {
			return err
		}
	}
	if err := t.bucket(blocksBucket).Put(j.key, j.value); err != nil {
		return err
	}
	t.after = append(t.after, func() {
		delete(j.p.group.open, j.start)
		j.p.sealed = true
		for _, c := range j.columns {
			t.s.catalogue.byNumber[c.Series].sealedIn(j.start, c)
		}
	})
	return nil
}

// sealedIn notes a column of a block that was written.
func (x *series) sealedIn(start aquarium.Instant, c record.Column) {
	if x == nil {
		return // its name is lost
	}
	x.first, x.last = min(x.first, start), max(x.last, start)
	n := len(c.Times) - 1
	if at := aquarium.Instant(c.Times[n]); x.known && at >= x.latest.At {
		x.latest = aquarium.Reading{Sensor: x.key, At: at, Value: c.Values[n], Unit: c.Unit, Retimed: c.Retimed != nil && c.Retimed[n] == 1}
	}
}

// bound writes which blocks the series of these groups begin and end in.
func bound(t *txn, js []*sealing) error {
	bounds := map[uint32]map[uint32]record.Bounds{} // by group and series
	for _, x := range t.s.catalogue.series {
		for _, j := range js {
			if j.group == x.group.number && bounds[j.group] == nil {
				bounds[j.group] = map[uint32]record.Bounds{}
			}
		}
		if bs := bounds[x.group.number]; bs != nil {
			bs[x.number] = record.Bounds{Series: x.number, First: x.first, Last: x.last}
		}
	}
	for _, j := range js {
		for _, c := range j.columns {
			if b, ok := bounds[j.group][c.Series]; ok {
				b.First, b.Last = min(b.First, j.start), max(b.Last, j.start)
				bounds[j.group][c.Series] = b
			}
		}
	}
	for number, by := range bounds {
		var bs []record.Bounds
		for _, b := range by {
			if b.First <= b.Last {
				bs = append(bs, b)
			}
		}
		slices.SortFunc(bs, func(a, b record.Bounds) int { return cmp.Compare(a.Series, b.Series) })
		key := numberKey(number)
		if err := t.bucket(boundsBucket).Put(key, record.Seal(nil, key, record.EncodeBounds(bs))); err != nil {
			return err
		}
	}
	return nil
}

// quarantine moves what cannot be read to the bucket damaged, as it is and with
// the end of its stretch: readings for that time can be taken again, and
// whoever asks for it is told what is missing.
func (j *sealing) quarantine(t *txn, q quarantined) error {
	until := j.start.Add(stretch)
	d := &Damage{File: t.s.path, Bucket: string(blocksBucket), Key: j.key, From: j.start, To: until, Err: errPutAside}
	if x := t.s.catalogue.byNumber[q.series]; x != nil {
		d.Sensor = x.key
	}
	t.s.opt.Log.Error("damaged readings were put aside", "err", d)
	numbers := []uint32{q.series}
	if q.series == 0 { // whoever's they were
		numbers = nil
		for _, x := range t.s.catalogue.series {
			if x.group.number == j.group && x.first <= j.start && j.start <= x.last {
				numbers = append(numbers, x.number)
			}
		}
	}
	b := t.bucket(damagedBucket)
	for i, number := range numbers {
		key := record.Key(number, j.start)
		kept := binary.LittleEndian.AppendUint64(nil, uint64(until))
		if i == 0 {
			kept = append(kept, q.bytes...)
		}
		if b.Get(key) != nil {
			continue
		}
		if err := b.Put(key, record.Seal(nil, key, kept)); err != nil {
			return err
		}
	}
	return nil
}
