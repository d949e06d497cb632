package store

import (
	"cmp"
	"slices"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

const (
	// bulkReadings is how many readings Import holds in memory, packed: some
	// 8 MiB.
	bulkReadings = 4 << 20
	// bulkStretches is how many stretches it seals in one transaction: the
	// sums of a tank are then written once for many of them.
	bulkStretches = 32
)

// Tally counts what became of imported readings.
type Tally struct {
	Fresh     int // were not there
	Repeats   int // the same value was there
	Conflicts int // another value was there
}

// Bulk is an Import in which the first value stands.
func (s *Store) Bulk(fn func(add func(aquarium.Batch) error) error) error {
	_, err := s.Import(false, fn)
	return err
}

// Import gives fn an add that gathers batches and seals them, past the log:
// for histories and a first filling. The first value for a sensor and a time
// stands, or with replace the last. What add took is on disk when Import
// returns nil; when fn fails, or the disk does, some of it may be. add keeps
// nothing of the batch it is given, and may be called by one goroutine.
func (s *Store) Import(replace bool, fn func(add func(aquarium.Batch) error) error) (Tally, error) {
	in := &importing{s: s, replace: replace, open: map[openKey]*imported{}}
	if err := fn(in.add); err != nil {
		return in.tally, err
	}
	return in.tally, in.flush(0)
}

// importing is one Import.
type importing struct {
	s       *Store
	replace bool
	tally   Tally
	open    map[openKey]*imported
	n       int // readings held
	clock   int // counts readings, to tell which stretch was used last
}

type openKey struct {
	group uint32
	start aquarium.Instant
}

// imported is what an import has for a stretch.
type imported struct {
	in    *importing
	group *group
	start aquarium.Instant
	heads map[uint32]*head
	n     int
	used  int
}

func (in *importing) add(b aquarium.Batch) error {
	if err := in.s.enrol(b.Readings); err != nil {
		return err
	}
	for _, r := range b.Readings {
		in.put(r)
	}
	if b.Readings = nil; b.Len() > 0 {
		if _, err := in.s.Append(b, nil); err != nil {
			return err
		}
	}
	if in.n <= bulkReadings {
		return nil
	}
	return in.flush(bulkReadings / 2)
}

// enrol makes the series that are new.
func (s *Store) enrol(rs []aquarium.Reading) error {
	var unknown []aquarium.SensorKey
	s.mu.RLock()
	for i, r := range rs {
		if i > 0 && rs[i-1].Sensor == r.Sensor {
			continue
		}
		if s.catalogue.series[r.Sensor] == nil {
			unknown = append(unknown, r.Sensor)
		}
	}
	s.mu.RUnlock()
	if len(unknown) == 0 {
		return nil
	}
	return s.write(func(t *txn) error {
		for _, k := range unknown {
			if _, err := t.seriesOf(k); err != nil {
				return err
			}
		}
		return nil
	})
}

func (in *importing) put(r aquarium.Reading) {
	x, _ := in.s.seriesFor(r.Sensor)
	k := openKey{x.group.number, stretchOf(x.group.number, r.At)}
	m := in.open[k]
	if m == nil {
		m = &imported{in: in, group: x.group, start: k.start, heads: map[uint32]*head{}}
		in.open[k] = m
	}
	in.clock++
	m.used = in.clock
	h := m.heads[x.number]
	if h == nil {
		h = &head{}
		m.heads[x.number] = h
	}
	if had, ok := h.get(r.At); ok {
		if record.Same(had, r) {
			in.tally.Repeats++
			return
		}
		in.tally.Conflicts++
		if !in.replace {
			return
		}
		h.put(&r)
		return
	}
	in.tally.Fresh++
	h.put(&r)
	m.n++
	in.n++
}

// flush seals the stretches that were longest not used, until no more than
// leave readings are held.
func (in *importing) flush(leave int) error {
	all := make([]*imported, 0, len(in.open))
	for _, m := range in.open {
		all = append(all, m)
	}
	slices.SortFunc(all, func(a, b *imported) int { return cmp.Compare(a.used, b.used) })
	left := in.n
	out := slices.IndexFunc(all, func(m *imported) bool {
		if left <= leave {
			return true
		}
		left -= m.n
		return false
	})
	if out >= 0 {
		all = all[:out]
	}
	slices.SortFunc(all, func(a, b *imported) int {
		return cmp.Or(cmp.Compare(a.group.number, b.group.number), cmp.Compare(a.start, b.start))
	})
	for some := range slices.Chunk(all, bulkStretches) {
		if err := in.s.sealImported(some); err != nil {
			return err
		}
		for _, m := range some {
			in.n -= m.n
			delete(in.open, openKey{m.group.number, m.start})
		}
	}
	return nil
}

// sealImported seals stretches together with what is there already.
func (s *Store) sealImported(ms []*imported) error {
	s.tidying.Lock()
	defer s.tidying.Unlock()
	for {
		if err := s.room(len(ms)); err != nil {
			return err
		}
		sums := newRollups(s)
		var js []*sealing
		before := ms[0].in.tally
		for _, m := range ms {
			j, err := s.prepare(s.pendingOf(m), m, sums)
			if err != nil {
				return err
			}
			js = append(js, j)
		}
		done, err := s.commit(js, sums)
		if done || err != nil {
			return err
		}
		ms[0].in.tally = before // readings came in between: once more
	}
}

// pendingOf is what the log has of the stretch, or something empty.
func (s *Store) pendingOf(m *imported) *pending {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if p := m.group.open[m.start]; p != nil {
		return p
	}
	return &pending{group: m.group, start: m.start}
}

// over lays what is imported of a series under, or with replace over, what is
// there.
func (m *imported) over(number uint32, there []record.Column) []record.Column {
	h := m.heads[number]
	if h == nil {
		return there
	}
	b := columnBuilder{series: number, room: h.len()}
	h.each(never, forever, b.add)
	met := func(same bool) {
		m.in.tally.Fresh--
		if same {
			m.in.tally.Repeats++
		} else {
			m.in.tally.Conflicts++
		}
	}
	if m.in.replace {
		return overlayColumns(number, there, b.columns, met)
	}
	return overlayColumns(number, b.columns, there, met)
}
