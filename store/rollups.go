package store

import (
	"errors"
	"slices"
	"time"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/column"
	"lentic/store/record"
)

// level is one resolution that readings are summed up in.
type level struct {
	number byte
	step   time.Duration
	span   time.Duration // of one value
	older  *level        // the same steps as format 2 kept them
}

const day = 24 * time.Hour

// The levels that are kept for ever, each folded from the one before it. Ten
// minutes divide a stretch's beginning, so no row of theirs needs two blocks. A
// value is written anew with each of its stretches, so it is short: two of twelve
// sensors fill two pages nearly, and what they leave free others fit into. Values
// of 1440 rows left thousands of pages free.
var levels = []level{
	{5, 10 * time.Minute, 40 * time.Hour, &olderLevels[0]},
	{6, time.Hour, 7 * day, &olderLevels[1]},
	{7, day, 144 * day, &olderLevels[2]},
}

// olderLevels are those of format 2, of 1440 rows. Their values are read where
// there is none of the present level, and stay as they are.
var olderLevels = []level{
	{number: 2, step: 10 * time.Minute, span: 10 * day},
	{number: 3, step: time.Hour, span: 60 * day},
	{number: 4, step: day, span: 1440 * day},
}

// minutes is what remains of a block when its readings are forgotten; its
// values are a stretch long.
var minutes = level{number: 1, step: time.Minute, span: stretch}

func (l level) key(start aquarium.Instant, group uint32) []byte {
	return append([]byte{l.number}, record.BlockKey(start, group)...)
}

// value finds what a level has from at on, for its span: its own value, or that
// of the older level, with the key it lies under. No value is nil.
func (l level) value(tx *bbolt.Tx, at aquarium.Instant, group uint32) (key, value []byte) {
	b := tx.Bucket(rollupsBucket)
	key = l.key(at, group)
	if value = b.Get(key); value != nil || l.older == nil {
		return key, value
	}
	key = l.older.key(at.Floor(l.older.span), group)
	return key, b.Get(key)
}

// begin is where the value begins that has the instant. Those of minutes begin
// with the block they remain of.
func (l level) begin(at aquarium.Instant, group uint32) aquarium.Instant {
	if l.number == minutes.number {
		return stretchOf(group, at)
	}
	return at.Floor(l.span)
}

// rollups are the rows that sealing stretches changes. Those that are read are
// kept, for the next stretch of the same group to change them too.
type rollups struct {
	s      *Store
	values map[string]*rollupValue
}

type rollupValue struct {
	step    time.Duration
	columns []record.Rollup
	dirty   bool
}

func newRollups(s *Store) *rollups { return &rollups{s: s, values: map[string]*rollupValue{}} }

// encode gives what changed as keys and values.
func (r *rollups) encode() map[string][]byte {
	out := map[string][]byte{}
	for key, v := range r.values {
		if v.dirty && len(v.columns) > 0 {
			out[key] = record.EncodeRollups([]byte(key), v.step.Milliseconds(), v.columns)
		}
	}
	return out
}

// get reads the rows of the value that begins at at, once.
func (r *rollups) get(tx *bbolt.Tx, l level, at aquarium.Instant, group uint32) (*rollupValue, error) {
	key := string(l.key(at, group))
	if v := r.values[key]; v != nil {
		return v, nil
	}
	v := &rollupValue{step: l.step}
	var err error
	if v.columns, err = readRollups(tx, r.s, l, at, group); err != nil {
		return nil, err
	}
	r.values[key] = v
	return v, nil
}

// fold sums a stretch's columns up, level by level, each into the rows that
// are there for other stretches.
func (r *rollups) fold(tx *bbolt.Tx, j *sealing) error {
	from, to := j.start, j.start.Add(stretch)
	var fresh []record.Rollup
	cols := j.columns
	if j.forgotten {
		cols = j.added
	}
	for _, c := range cols {
		good := j.s.goodOf(c)
		fresh = append(fresh, record.Rollup{Series: c.Series, Unit: c.Unit, Rows: record.Fold(nil, levels[0].step.Milliseconds(), c.Times, c.Values, good)})
	}
	var err error
	if j.forgotten {
		fresh, err = r.joined(tx, j, fresh)
	} else {
		fresh, err = r.spared(tx, j, fresh)
	}
	if err != nil {
		return err
	}
	for i, l := range levels {
		all, err := r.lay(tx, j, l, from, to, fresh)
		if err != nil {
			return err
		}
		if i+1 == len(levels) {
			return nil
		}
		// The next level's rows at both ends take in rows of this one that
		// belong to other stretches.
		step := levels[i+1].step
		from, to = from.Floor(step), to.Ceil(step)
		fresh = fresh[:0]
		for _, c := range all {
			rows := between(c.Rows, from, to)
			if len(rows) > 0 {
				fresh = append(fresh, record.Rollup{Series: c.Series, Unit: c.Unit, Rows: record.FoldRows(nil, step.Milliseconds(), rows)})
			}
		}
	}
	return nil
}

// joined adds fresh rows of the first level to those that remain of a stretch
// whose readings are forgotten. A reading that comes again by the log is counted
// again: nobody can tell any more.
func (r *rollups) joined(tx *bbolt.Tx, j *sealing, fresh []record.Rollup) ([]record.Rollup, error) {
	l := levels[0]
	for at := j.start.Floor(l.span); at < j.start.Add(stretch); at = at.Add(l.span) {
		old, err := r.get(tx, l, at, j.group)
		if err != nil {
			return nil, err
		}
		for _, c := range old.columns {
			if c.Rows = between(c.Rows, j.start, j.start.Add(stretch)); len(c.Rows) > 0 {
				fresh = appendRows(fresh, c)
			}
		}
	}
	for i := range fresh {
		slices.SortStableFunc(fresh[i].Rows, func(a, b column.Row) int { return rowByTime(a, b.At) })
		fresh[i].Rows = record.FoldRows(nil, l.step.Milliseconds(), fresh[i].Rows)
	}
	return fresh, nil
}

// spared keeps the rows of the first level of series whose readings in the
// stretch were damaged: they are all that is known of them. Of those there and
// fresh ones of readings that came since, the one that counts more stands: what
// comes again must not be counted twice.
func (r *rollups) spared(tx *bbolt.Tx, j *sealing, fresh []record.Rollup) ([]record.Rollup, error) {
	l := levels[0]
	damaged := tx.Bucket(damagedBucket)
	for at := j.start.Floor(l.span); at < j.start.Add(stretch); at = at.Add(l.span) {
		old, err := r.get(tx, l, at, j.group)
		if err != nil {
			return nil, err
		}
		for _, c := range old.columns {
			lost := slices.ContainsFunc(j.damage, func(q quarantined) bool { return q.series == 0 || q.series == c.Series })
			if !lost && damaged.Get(record.Key(c.Series, j.start)) == nil {
				continue
			}
			if c.Rows = between(c.Rows, j.start, j.start.Add(stretch)); len(c.Rows) > 0 {
				fresh = appendFuller(fresh, c)
			}
		}
	}
	return fresh, nil
}

// appendFuller is appendRows, but of two rows of the same time the one that
// counts more stands, and of two that count the same the first.
func appendFuller(all []record.Rollup, c record.Rollup) []record.Rollup {
	i := slices.IndexFunc(all, func(a record.Rollup) bool { return a.Series == c.Series && a.Unit == c.Unit })
	if i < 0 {
		return append(all, record.Rollup{Series: c.Series, Unit: c.Unit, Rows: slices.Clone(c.Rows)})
	}
	for _, row := range c.Rows {
		at, there := slices.BinarySearchFunc(all[i].Rows, row.At, rowByTime)
		switch {
		case !there:
			all[i].Rows = slices.Insert(all[i].Rows, at, row)
		case row.Good+row.Others > all[i].Rows[at].Good+all[i].Rows[at].Others:
			all[i].Rows[at] = row
		}
	}
	return all
}

// lay replaces the rows of a level from <= At < to by fresh ones, and returns
// the rows of the whole days around them.
func (r *rollups) lay(tx *bbolt.Tx, j *sealing, l level, from, to aquarium.Instant, fresh []record.Rollup) ([]record.Rollup, error) {
	var all []record.Rollup
	wide, end := from.Floor(day), to.Ceil(day)
	for at := min(wide, from).Floor(l.span); at < max(end, to); at = at.Add(l.span) {
		v, err := r.get(tx, l, at, j.group)
		if err != nil {
			return nil, err
		}
		if at < to && at.Add(l.span) > from {
			v.columns = replaceRows(v.columns, fresh, max(from, at), min(to, at.Add(l.span)))
			v.dirty = true
		}
		for _, c := range v.columns {
			if rows := between(c.Rows, wide, end); len(rows) > 0 {
				all = appendRows(all, record.Rollup{Series: c.Series, Unit: c.Unit, Rows: rows})
			}
		}
	}
	return all, nil
}

// readRollups reads the rows of the value that begins at at. What is damaged is
// taken as not there, and told: rows can be folded anew, and what replaces them
// mends the value.
func readRollups(tx *bbolt.Tx, s *Store, l level, at aquarium.Instant, group uint32) ([]record.Rollup, error) {
	key, value := l.value(tx, at, group)
	if value == nil {
		return nil, nil
	}
	rs, err := record.DecodeRollups(key, value, 0)
	if errors.Is(err, record.ErrCorrupt) {
		s.opt.Log.Error("rows of sums are damaged", "err", &Damage{File: s.path, Bucket: string(rollupsBucket), Key: slices.Clone(key), Err: err})
		err = nil
	}
	if key[0] != l.number { // an older one has more
		for i := range rs {
			rs[i].Rows = between(rs[i].Rows, at, at.Add(l.span))
		}
	}
	return rs, err
}

// replaceRows puts fresh rows from <= At < to in the place of old ones.
func replaceRows(old, fresh []record.Rollup, from, to aquarium.Instant) []record.Rollup {
	var out []record.Rollup
	for _, c := range old {
		i, j := span(c.Rows, from, to)
		out = append(out, record.Rollup{Series: c.Series, Unit: c.Unit, Rows: slices.Delete(c.Rows, i, j)})
	}
	for _, c := range fresh {
		if rows := between(c.Rows, from, to); len(rows) > 0 {
			out = appendRows(out, record.Rollup{Series: c.Series, Unit: c.Unit, Rows: rows})
		}
	}
	out = slices.DeleteFunc(out, func(c record.Rollup) bool { return len(c.Rows) == 0 })
	slices.SortFunc(out, func(a, b record.Rollup) int {
		if a.Series != b.Series {
			return int(a.Series) - int(b.Series)
		}
		return compareUnits(a.Unit, b.Unit)
	})
	return out
}

func compareUnits(a, b aquarium.Unit) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// appendRows adds a column's rows to those of its series and unit.
func appendRows(all []record.Rollup, c record.Rollup) []record.Rollup {
	for i := range all {
		if all[i].Series == c.Series && all[i].Unit == c.Unit {
			rows := all[i].Rows
			at, _ := slices.BinarySearchFunc(rows, c.Rows[0].At, rowByTime)
			all[i].Rows = slices.Insert(slices.Clip(rows), at, c.Rows...)
			return all
		}
	}
	return append(all, record.Rollup{Series: c.Series, Unit: c.Unit, Rows: slices.Clone(c.Rows)})
}

func between(rows []column.Row, from, to aquarium.Instant) []column.Row {
	i, j := span(rows, from, to)
	return rows[i:j]
}

func span(rows []column.Row, from, to aquarium.Instant) (i, j int) {
	i, _ = slices.BinarySearchFunc(rows, int64(from), rowByTime)
	j, _ = slices.BinarySearchFunc(rows, int64(to), rowByTime)
	return i, max(i, j)
}

func rowByTime(r column.Row, at int64) int {
	switch {
	case r.At < at:
		return -1
	case r.At > at:
		return 1
	}
	return 0
}

// goodOf tells which readings of a column may count, nil: all.
func (s *Store) goodOf(c record.Column) func(i int) bool {
	s.mu.RLock()
	x := s.catalogue.byNumber[c.Series]
	s.mu.RUnlock()
	if x == nil || s.opt.Good == nil {
		return nil
	}
	good := s.opt.Good(x.key)
	if good == nil {
		return nil
	}
	return func(i int) bool { return good(c.Values[i], c.Unit) }
}
