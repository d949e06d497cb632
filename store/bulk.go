package store

import (
	"cmp"
	"slices"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

const (
	// bulkReadings is how many readings Import holds in memory, 16 bytes
	// each.
	bulkReadings = 4 << 20
	// bulkIdle is how many readings come before a stretch that none of them
	// is of counts as over: the beginnings of what many tanks sent in turns
	// is kept together, and of one tank little is held.
	bulkIdle = 256 << 10
	// bulkLook is how many readings come between two looks for such.
	bulkLook = 2 << 20
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
// stands, or with replace the last; where the last is the value that was there
// before, that stays as it was. What add took is on disk when Import
// returns nil; when fn fails, or the disk does, some of it may be. add keeps
// nothing of the batch it is given, and may be called by one goroutine.
func (s *Store) Import(replace bool, fn func(add func(aquarium.Batch) error) error) (Tally, error) {
	s.imports.Add(1)
	defer s.imports.Add(-1)
	in := &importing{
		s: s, replace: replace, open: map[openKey]*imported{}, cursors: map[aquarium.SensorKey]*cursor{}, at: &cursor{},
		spare: make(chan *gather, 1<<9), ripe: make(chan []*imported, 1), failed: make(chan struct{}), ended: make(chan struct{}),
	}
	go in.seal()
	err := fn(in.add)
	if err == nil {
		err = in.flush(0)
	}
	close(in.ripe)
	<-in.ended
	in.tally.Fresh += in.met.Fresh
	in.tally.Repeats += in.met.Repeats
	in.tally.Conflicts += in.met.Conflicts
	return in.tally, cmp.Or(in.err, err)
}

// importing is one Import. What it gathers one goroutine seals while the next
// is gathered.
type importing struct {
	s       *Store
	replace bool
	tally   Tally
	open    map[openKey]*imported
	n       int // readings held
	clock   int // counts readings, to tell which stretch was used last
	looked  int // what clock was when it was last looked for what is over
	cursors map[aquarium.SensorKey]*cursor
	at      *cursor // of the last reading

	spare  chan *gather     // that were sealed
	ripe   chan []*imported // to be sealed, some stretches of one or more groups
	failed chan struct{}    // closed when sealing has failed
	ended  chan struct{}    // closed when all is sealed; then these may be read:
	met    Tally            // what turned out to be there already
	err    error
}

// seal seals what is ripe until there is no more, or it fails.
func (in *importing) seal() {
	defer close(in.ended)
	for some := range in.ripe {
		if in.err != nil {
			continue
		}
		if in.err = in.s.sealImported(some); in.err != nil {
			close(in.failed)
			continue
		}
		for _, m := range some {
			m.release()
		}
	}
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
	heads map[uint32]*gather // by the number of the series
	n     int                // readings, when they were last counted
	used  int
	// same and other count what is there already, with that value or with
	// another.
	same, other int
	// counted are the rows of sums, by series, of readings that are gone.
	counted map[uint32]map[int64]bool
	// ripe: it was handed over, and nothing may be put in any more.
	ripe bool
}

// count counts the readings.
func (m *imported) count() {
	m.n = 0
	for _, g := range m.heads {
		m.n += g.len()
	}
}

// release gives back the room of what was sealed.
func (m *imported) release() {
	for _, g := range m.heads {
		if g.head != nil {
			continue
		}
		select {
		case m.in.spare <- g:
		default:
			return
		}
	}
}

func (in *importing) add(b aquarium.Batch) error {
	rs := b.Readings
	in.clock += len(rs)
	fresh := in.tally.Fresh
	for i := range rs {
		r := &rs[i]
		c := in.at.next
		if c == nil || !sameSensor(&c.key, &r.Sensor) {
			var err error
			if c, err = in.cursor(rs[i:]); err != nil {
				return err
			}
		}
		in.at = c
		if r.At < c.from || r.At >= c.to || c.m.ripe {
			in.move(c, r.At)
		}
		c.m.used = in.clock
		if c.g.follow(r) || in.meet(c, r) {
			in.tally.Fresh++
		}
	}
	in.n += in.tally.Fresh - fresh
	if b.Readings = nil; b.Len() > 0 {
		if _, err := in.s.Append(b, nil); err != nil {
			return err
		}
	}
	switch {
	case in.n > bulkReadings:
		return in.flush(bulkReadings / 2)
	case in.clock-in.looked > bulkLook:
		return in.flush(bulkReadings)
	}
	return nil
}

// meet puts a reading that does not follow all others of its sensor, and reports
// whether there was none for that time.
func (in *importing) meet(c *cursor, r *aquarium.Reading) bool {
	had, ok := c.g.get(r.At)
	switch {
	case ok && record.Same(had, *r):
		in.tally.Repeats++
		return false
	case ok:
		in.tally.Conflicts++
	}
	if !ok || in.replace {
		c.g.put(r)
	}
	return !ok
}

// flush hands over the stretches that are over, and then those that were
// longest not used until no more than leave readings are held.
func (in *importing) flush(leave int) error {
	in.looked = in.clock
	all := make([]*imported, 0, len(in.open))
	for _, m := range in.open {
		m.count()
		all = append(all, m)
	}
	slices.SortFunc(all, func(a, b *imported) int { return cmp.Compare(a.used, b.used) })
	left := in.n
	out := slices.IndexFunc(all, func(m *imported) bool {
		if left <= leave && m.used > in.clock-bulkIdle {
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
		for _, m := range some {
			in.n -= m.n
			m.ripe = true
			delete(in.open, openKey{m.group.number, m.start})
		}
		select {
		case in.ripe <- some:
		case <-in.failed:
			return in.err
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
		before := ms[0].in.met
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
		ms[0].in.met = before
		for _, m := range ms {
			m.same, m.other = 0, 0
		}
	}
}

// pendingOf is what the log has of the stretch, or something empty.
func (s *Store) pendingOf(m *imported) *pending {
	s.rlock()
	defer s.mu.RUnlock()
	if p := m.group.open[m.start]; p != nil {
		return p
	}
	return &pending{group: m.group, start: m.start}
}

// over lays what is imported of a series under, or with replace over, what is
// there.
func (m *imported) over(number uint32, there []record.Column) []record.Column {
	g := m.heads[number]
	if g == nil {
		return there
	}
	given := g.columns()
	if rows := m.counted[number]; rows != nil {
		given = m.uncounted(given, rows)
	}
	met := func(same bool) (takeOver bool) {
		m.in.met.Fresh--
		if same {
			m.in.met.Repeats++
			m.same++
			return !m.in.replace // what is there stays as it is
		}
		m.in.met.Conflicts++
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
		rs, err := readRollups(tx, j.s, l, at, j.group)
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
			m.in.met.Fresh--
			m.in.met.Repeats++
			m.same++
			w.take(i, nil)
			continue
		}
		w.take(i, &out)
	}
	return out.columns
}
