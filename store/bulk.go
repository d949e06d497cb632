package store

import (
	"cmp"
	"slices"

	"go.etcd.io/bbolt"

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
	s.imports.Add(1)
	defer s.imports.Add(-1)
	in := &importing{s: s, replace: replace, open: map[openKey]*imported{}, cursors: map[aquarium.SensorKey]*cursor{}, at: &cursor{}}
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
	cursors map[aquarium.SensorKey]*cursor
	at      *cursor // of the last reading
}

// cursor is where a sensor's last reading went: the next mostly follows it.
type cursor struct {
	x    *series
	m    *imported
	h    *head
	next *cursor // of the sensor that came after it the last time
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
	// same and other count what is there already, with that value or with
	// another.
	same, other int
	// counted are the rows of sums, by series, of readings that are gone.
	counted map[uint32]map[int64]bool
	// sealed: it is on disk, and nothing may be put in any more.
	sealed bool
}

func (in *importing) add(b aquarium.Batch) error {
	for i := range b.Readings {
		if err := in.put(&b.Readings[i]); err != nil {
			return err
		}
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

// enrol is the sensor's series, made where there is none.
func (s *Store) enrol(k aquarium.SensorKey) (*series, error) {
	if x, ok := s.seriesFor(k); ok {
		return x, nil
	}
	if err := s.write(func(t *txn) error { _, err := t.seriesOf(k); return err }); err != nil {
		return nil, err
	}
	x, _ := s.seriesFor(k)
	return x, nil
}

func (in *importing) put(r *aquarium.Reading) error {
	c := in.at
	if c.x == nil || c.x.key != r.Sensor {
		var err error
		if c, err = in.cursor(r.Sensor); err != nil {
			return err
		}
	}
	if c.m == nil || c.m.sealed || r.At < c.m.start || r.At >= c.m.start.Add(stretch) {
		in.move(c, r.At)
	}
	in.clock++
	c.m.used = in.clock
	if had, ok := c.h.get(r.At); ok {
		if record.Same(had, *r) {
			in.tally.Repeats++
			return nil
		}
		in.tally.Conflicts++
		if in.replace {
			c.h.put(r)
		}
		return nil
	}
	in.tally.Fresh++
	c.h.put(r)
	c.m.n++
	in.n++
	return nil
}

// cursor is the sensor's, which is that of the last reading then.
func (in *importing) cursor(k aquarium.SensorKey) (*cursor, error) {
	c := in.at.next
	if c == nil || c.x.key != k {
		if c = in.cursors[k]; c == nil {
			x, err := in.s.enrol(k)
			if err != nil {
				return nil, err
			}
			c = &cursor{x: x}
			in.cursors[k] = c
		}
		in.at.next = c
	}
	in.at = c
	return c, nil
}

// move moves a cursor to the stretch of a time.
func (in *importing) move(c *cursor, at aquarium.Instant) {
	k := openKey{c.x.group.number, stretchOf(c.x.group.number, at)}
	m := in.open[k]
	if m == nil {
		m = &imported{in: in, group: c.x.group, start: k.start, heads: map[uint32]*head{}}
		in.open[k] = m
	}
	h := m.heads[c.x.number]
	if h == nil {
		h = &head{}
		m.heads[c.x.number] = h
	}
	c.m, c.h = m, h
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
			m.sealed = true
			delete(in.open, openKey{m.group.number, m.start})
		}
	}
	return nil
}

// sealImported seals stretches together with what is there already.
func (s *Store) sealImported(ms []*imported) error {
	s.tidying.Lock()
	defer s.tidying.Unlock()
	var js []*sealing
	for {
		if err := s.room(len(ms)); err != nil {
			return err
		}
		sums := newRollups(s)
		js = js[:0]
		before := ms[0].in.tally
		for _, m := range ms {
			j, err := s.prepare(s.pendingOf(m), m, sums)
			if err != nil {
				return err
			}
			if j != nil {
				js = append(js, j)
			}
		}
		if len(js) == 0 {
			return nil // all of it was there
		}
		done, err := s.commit(js, sums)
		if done || err != nil {
			return err
		}
		// Readings came in between: once more.
		ms[0].in.tally = before
		for _, m := range ms {
			m.same, m.other = 0, 0
		}
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
	given := h.columns(number)
	if rows := m.counted[number]; rows != nil {
		given = m.uncounted(given, rows)
	}
	met := func(same bool) (takeOver bool) {
		m.in.tally.Fresh--
		if same {
			m.in.tally.Repeats++
			m.same++
			return !m.in.replace // what is there stays as it is
		}
		m.in.tally.Conflicts++
		m.other++
		return true
	}
	if m.in.replace {
		return overlayColumns(number, there, given, met)
	}
	return overlayColumns(number, given, there, met)
}

// known reports whether all that was imported is there already, and stays.
func (m *imported) known() bool {
	if m.in.replace {
		return m.same == m.n
	}
	return m.same+m.other == m.n
}

// findCounted looks up which rows of sums a forgotten stretch has. Readings
// that are in them have been there before: nobody can compare them any more,
// and they must not be counted again.
func (m *imported) findCounted(tx *bbolt.Tx, j *sealing) error {
	m.counted = map[uint32]map[int64]bool{}
	l := levels[0]
	for at := j.start.Floor(l.span); at < j.start.Add(stretch); at = at.Add(l.span) {
		rs, err := readRollups(tx, j.s, l.key(at, j.group), 0)
		if err != nil {
			return err
		}
		for _, r := range rs {
			if m.counted[r.Series] == nil {
				m.counted[r.Series] = map[int64]bool{}
			}
			for _, row := range r.Rows {
				m.counted[r.Series][row.At] = true
			}
		}
	}
	return nil
}

// uncounted leaves out what lies in rows that have been counted.
func (m *imported) uncounted(cols []record.Column, rows map[int64]bool) []record.Column {
	w := walkOf(cols)
	out := columnBuilder{room: w.left}
	if len(cols) > 0 {
		out.series = cols[0].Series
	}
	for w.left > 0 {
		i, at := w.next()
		if rows[int64(aquarium.Instant(at).Floor(levels[0].step))] {
			m.in.tally.Fresh--
			m.in.tally.Repeats++
			m.same++
			w.take(i, nil)
			continue
		}
		w.take(i, &out)
	}
	return out.columns
}
