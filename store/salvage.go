package store

import (
	"cmp"
	"context"
	"crypto/rand"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// Salvage is CheckFile, and makes a new database at dest of what is whole:
// columns beside damaged ones, and what hung on damaged pages, included.
// Readings that are damaged are put aside in it, sums that are damaged summed up
// anew where their readings are there, and a sensor whose name is damaged is
// called lost-N. A file that is there stays. The new one
// is read back before it gets its name; saved is what it holds. Of o, Good, Log
// and Now count.
func Salvage(ctx context.Context, path, dest string, o Options, progress func(done, total int64)) (found, saved Findings, err error) {
	m, err := newMaking(dest)
	if err != nil {
		return found, saved, err
	}
	defer func() { err = errors.Join(err, m.abandon()) }()
	c := newChecker(path)
	s := &salvage{c: c, to: m, bounds: map[uint32]map[uint32]record.Bounds{}, stamps: map[string]bool{}}
	c.keep = s.keep
	if err := checkFile(ctx, path, c, progress); err != nil {
		return c.Findings, saved, err
	}
	if err := errors.Join(s.finish(), m.close()); err != nil {
		return c.Findings, saved, err
	}
	saved, err = m.readBack(ctx, progress)
	if err == nil && len(s.refold) > 0 {
		if err = s.foldAnew(o.withDefaults()); err == nil {
			saved, err = CheckFile(ctx, m.path, progress)
		}
	}
	if err = cmp.Or(err, saved.Err()); err != nil {
		return c.Findings, saved, err
	}
	return c.Findings, saved, m.install()
}

// salvage copies what a checker finds whole.
type salvage struct {
	c      *checker
	to     *making
	bounds map[uint32]map[uint32]record.Bounds // by group and series
	stamps map[string]bool                     // of meta, that are there
	refold []refold
	// unnamed are series that log records mention.
	unnamed []uint32
}

// refold is where sums are lost.
type refold struct {
	group    uint32 // 0: every one
	from, to aquarium.Instant
}

func (s *salvage) keep(at source, k, v []byte, lost error) error {
	switch {
	case at.bucket == string(boundsBucket): // found anew from the blocks
		return nil
	case at.bucket == string(blocksBucket):
		return s.block(k, v, lost)
	case at.bucket == string(rollupsBucket) && lost != nil:
		return s.sums(k, v)
	case at.bucket == string(logBucket) && lost != nil:
		return s.log(k, v)
	case lost != nil:
		return nil
	case at.bucket == string(metaBucket):
		s.stamps[string(k)] = true
	}
	return s.to.put(at, k, v)
}

// block keeps the columns that can be read, and puts the others aside.
func (s *salvage) block(k, v []byte, lost error) error {
	start, group, err := record.SplitBlockKey(k)
	if err != nil {
		return nil
	}
	b, err := record.OpenBlock(k, v)
	if err != nil {
		return s.putAside(group, start, v)
	}
	var cols []record.Column
	for _, p := range b.Columns {
		if err := s.name(p.Series, group); err != nil {
			return err
		}
		if lost != nil {
			col, err := b.Column(p, record.Column{})
			if err == nil {
				err = within(col, start)
			}
			if err != nil {
				if err := s.aside(p.Series, start, b.Sealed(p)); err != nil {
					return err
				}
				continue
			}
			cols = append(cols, col)
		}
		s.bound(group, p.Series, start)
	}
	switch {
	case lost == nil:
		return s.to.put(source{bucket: string(blocksBucket)}, k, v)
	case len(cols) == 0:
		return nil
	}
	return s.to.put(source{bucket: string(blocksBucket)}, k, record.EncodeBlock(k, b.Through, cols))
}

// name gives a series without a name one.
func (s *salvage) name(series, group uint32) error {
	if _, ok := s.c.all[series]; ok {
		return nil
	}
	tank := s.c.tank(group)
	if tank.Site == "" {
		tank = aquarium.TankKey{Site: "lost", Tank: aquarium.TankID(fmt.Sprintf("tank-%d", group))}
	}
	n := named{aquarium.SensorKey{Site: tank.Site, Tank: tank.Tank, Sensor: aquarium.SensorID(fmt.Sprintf("lost-%d", series))}, group}
	s.c.all[series] = n
	key := numberKey(series)
	return s.to.put(source{bucket: string(seriesBucket)}, key, record.Seal(nil, key, record.EncodeSeries(group, n.key)))
}

// log keeps a log record that only has readings of series without a name.
func (s *salvage) log(k, v []byte) error {
	var unnamed []uint32
	err := decodeLog(k, v, func(l record.Logged) {
		if _, ok := s.c.all[l.Series]; !ok {
			unnamed = append(unnamed, l.Series)
		}
	})
	if err != nil {
		return nil
	}
	s.unnamed = append(s.unnamed, unnamed...)
	s.c.uses(string(logBucket), k)
	return s.to.put(source{bucket: string(logBucket)}, k, v)
}

func (s *salvage) bound(group, series uint32, start aquarium.Instant) {
	if s.bounds[group] == nil {
		s.bounds[group] = map[uint32]record.Bounds{}
	}
	b, ok := s.bounds[group][series]
	if !ok {
		b = record.Bounds{Series: series, First: start, Last: start}
	}
	b.First, b.Last = min(b.First, start), max(b.Last, start)
	s.bounds[group][series] = b
}

// putAside puts a block aside, whoever's readings it has.
func (s *salvage) putAside(group uint32, start aquarium.Instant, v []byte) error {
	for number, n := range s.c.all {
		if n.group != group {
			continue
		}
		if err := s.aside(number, start, v); err != nil {
			return err
		}
		v = nil // once is enough
	}
	return nil
}

// aside puts a series' part of a block aside, as sealing it would.
func (s *salvage) aside(series uint32, start aquarium.Instant, v []byte) error {
	key := record.Key(series, start)
	kept := binary.LittleEndian.AppendUint64(nil, uint64(start.Add(stretch)))
	return s.to.put(source{bucket: string(damagedBucket)}, key, record.Seal(nil, key, append(kept, v...)))
}

// sums keeps the rows that can be read.
func (s *salvage) sums(k, v []byte) error {
	l, start, err := splitRollupKey(k)
	if err != nil {
		return nil
	}
	_, group, err := record.SplitBlockKey(k[1:])
	if err != nil {
		return nil
	}
	s.refold = append(s.refold, refold{group, start, start.Add(l.span)})
	if rs, _ := record.DecodeRollups(k, v, 0); len(rs) > 0 {
		return s.to.put(source{bucket: string(rollupsBucket)}, k, record.EncodeRollups(k, l.step.Milliseconds(), rs))
	}
	return nil
}

// finish writes what is found anew: the bounds, the sequences, and the stamp
// where it is lost.
func (s *salvage) finish() error {
	nobody := uint32(1) // a group that is nobody's
	for _, n := range s.c.all {
		nobody = max(nobody, n.group+1)
	}
	for _, series := range s.unnamed {
		if err := s.name(series, nobody); err != nil {
			return err
		}
	}
	for _, group := range slices.Sorted(maps.Keys(s.bounds)) {
		by := s.bounds[group]
		var bs []record.Bounds
		for _, series := range slices.Sorted(maps.Keys(by)) {
			bs = append(bs, by[series])
		}
		key := numberKey(group)
		if err := s.to.put(source{bucket: string(boundsBucket)}, key, record.Seal(nil, key, record.EncodeBounds(bs))); err != nil {
			return err
		}
	}
	for _, name := range buckets {
		at := source{bucket: string(name)}
		if n := max(s.c.sequences[at], s.c.last[at.bucket]); n > 0 {
			if err := s.to.sequence(at, n); err != nil {
				return err
			}
		}
	}
	id := make([]byte, 16)
	_, _ = rand.Read(id)
	for _, st := range []struct {
		key  []byte
		text string
	}{
		{formatKey, strconv.Itoa(record.Format)}, {idKey, hex.EncodeToString(id)}, {writerKey, "lentic"}, {createdKey, "lentic"},
	} {
		if s.stamps[string(st.key)] {
			continue
		}
		if err := s.to.put(source{bucket: string(metaBucket)}, st.key, record.Seal(nil, st.key, []byte(st.text))); err != nil {
			return err
		}
	}
	for _, d := range s.c.Damage {
		if d.Bucket == string(rollupsBucket) && d.Until != nil || d.Bucket == "" {
			s.refold = []refold{{0, never, forever}} // sums hung on pages that cannot be read
		}
	}
	return nil
}

// foldAnew sums the readings up again where sums are lost.
func (s *salvage) foldAnew(o Options) error {
	o.Reserve, o.Keep, o.KeepMinutes = -1, -1, -1
	o.ReadOnly, o.Writer, o.Metrics = false, "", nil
	db, err := Open(s.to.path, o)
	if err != nil {
		return err
	}
	return errors.Join(db.foldAnew(s.refold), db.Close())
}

func (s *Store) foldAnew(where []refold) error {
	s.tidying.Lock()
	defer s.tidying.Unlock()
	type block struct {
		group uint32
		start aquarium.Instant
	}
	todo := map[block]bool{}
	err := s.walk(context.Background(), source{bucket: string(blocksBucket)}, nil, func(k, _ []byte) error {
		start, group, err := record.SplitBlockKey(k)
		if err != nil {
			return nil
		}
		for _, r := range where {
			if (r.group == 0 || r.group == group) && start < r.to && start.Add(stretch) > r.from {
				todo[block{group, start}] = true
			}
		}
		return nil
	}, nil)
	if err != nil {
		return err
	}
	groups := map[uint32]*group{}
	for _, g := range s.catalogue.groups {
		groups[g.number] = g
	}
	for b := range todo {
		g := groups[b.group]
		if g == nil {
			continue // its series' names are lost
		}
		p := g.open[b.start]
		if p == nil {
			p = &pending{group: g, start: b.start}
		}
		if _, err := s.seal(p); err != nil {
			return err
		}
	}
	return nil
}
