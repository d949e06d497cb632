package store

import (
	"cmp"
	"fmt"
	"slices"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
	"lentic/store/record"
)

// Hook writes documents in the transaction of the readings they are about. An
// error of its own undoes both.
type Hook = func(tx ledger.Tx, o aquarium.Outcome) error

// Append writes a batch and what hook adds, together or not at all; nil means
// no hook. The first value for a sensor and time stands: appending again is
// harmless, and what differs is counted and kept as a conflict. When it
// returns nil all of it is on disk. ErrFull says that there is no room, and
// may be tried again; any other ErrDisk is final; a hook's error is returned
// as it is.
func (s *Store) Append(b aquarium.Batch, hook Hook) (aquarium.Outcome, error) {
	return s.take(b, false, hook, nil)
}

// Replace is Append but for conflicts: the value given stands then, is counted
// as a conflict, and is among the fresh.
func (s *Store) Replace(b aquarium.Batch, hook Hook) (aquarium.Outcome, error) {
	return s.take(b, true, hook, nil)
}

// take writes a batch; first runs before it in the same transaction and may
// add to it.
func (s *Store) take(b aquarium.Batch, replace bool, hook Hook, first func(t *txn, b *aquarium.Batch) error) (aquarium.Outcome, error) {
	if err := s.room(b.Len()); err != nil {
		return aquarium.Outcome{}, err
	}
	var out aquarium.Outcome
	err := s.transact(func(t *txn) error {
		if first != nil {
			if err := first(t, &b); err != nil {
				return err
			}
		}
		fates, err := t.settle(b, replace)
		if err != nil {
			return err
		}
		out = outcome(b.Readings, fates)
		if err := t.shelve(b, fates); err != nil {
			return err
		}
		if hook == nil {
			return nil
		}
		return t.call(func() error { return hook(t.documents(), out) })
	})
	if err != nil {
		return aquarium.Outcome{}, fmt.Errorf("append %d readings: %w", len(b.Readings), err)
	}
	return out, nil
}

// call runs a caller's function. When it panics foreign stays set, for guard
// to see whose panic it is.
func (t *txn) call(fn func() error) error {
	t.foreign = true
	err := fn()
	t.foreign = false
	return err
}

// fate is what became of one reading.
type fate struct {
	what   verdict
	stands aquarium.Reading // of a conflict
}

type verdict uint8

const (
	fresh verdict = iota
	repeat
	conflict
	replaced
)

func outcome(rs []aquarium.Reading, fates []fate) aquarium.Outcome {
	var o aquarium.Outcome
	if fates == nil { // the caller's own, not copied
		o.Fresh = slices.Clip(rs)
		return o
	}
	for i, f := range fates {
		switch f.what {
		case fresh:
			o.Fresh = append(o.Fresh, rs[i])
		case repeat:
			o.Repeats++
		case conflict:
			o.Conflicts++
		case replaced:
			o.Conflicts++
			o.Fresh = append(o.Fresh, rs[i])
		}
	}
	return o
}

// item is one reading of a batch with its series.
type item struct {
	series *series
	index  int
	at     aquarium.Instant
}

// settle finds what becomes of the batch's readings, and logs those that
// stand. No fates means that all are fresh.
func (t *txn) settle(b aquarium.Batch, replace bool) ([]fate, error) {
	if err := t.lineUp(b.Readings); err != nil {
		return nil, err
	}
	if t.rising {
		return nil, t.log()
	}
	t.s.catchUp()
	fates := t.compare(b.Readings, replace)
	all := t.stands
	t.stands.reset()
	for i, f := range fates {
		if f.what == fresh || f.what == replaced {
			t.stands.add(all.series[i], all.readings[i])
		}
	}
	return fates, t.log()
}

// lineUp finds the readings' series, and whether each comes after all others of
// its series.
func (t *txn) lineUp(rs []aquarium.Reading) error {
	t.stands = t.s.scratch
	t.stands.reset()
	t.rising = true
	t.s.mu.RLock() // whoever looks for the latest reading may note it
	defer t.s.mu.RUnlock()
	before := &series{}
	for i := range rs {
		r := &rs[i]
		x := before.after
		if x == nil || !sameSensor(&x.key, &r.Sensor) {
			var err error
			if x, err = t.seriesOf(r.Sensor); err != nil {
				return err
			}
			// One that is made only now would be left over if this fails.
			if _, made := t.made.series[x.key]; !made {
				before.after = x
			}
		}
		before = x
		if x.tipped != t.number {
			x.tip, x.tipped = t.s.landed.newest(x), t.number
		}
		t.rising = t.rising && r.At > x.tip
		x.tip = r.At
		t.stands.add(x, record.Logged{Series: x.number, Point: record.PointOf(r)})
	}
	return nil
}

// compare holds each reading against what stands for its series and time, of
// two in the batch the one given first before the other.
func (t *txn) compare(rs []aquarium.Reading, replace bool) []fate {
	items := make([]item, len(rs))
	for i, x := range t.stands.series {
		items[i] = item{x, i, rs[i].At}
	}
	slices.SortFunc(items, func(a, b item) int {
		return cmp.Or(cmp.Compare(a.series.number, b.series.number), cmp.Compare(a.at, b.at), cmp.Compare(a.index, b.index))
	})
	fates := make([]fate, len(items))
	var stands aquarium.Reading // for the series and time of the item before
	for i, it := range items {
		r := rs[it.index]
		there := i > 0 && items[i-1].series == it.series && items[i-1].at == it.at
		if !there {
			stands, there = t.standsAt(it.series, it.at)
		}
		switch {
		case !there:
			stands = r
		case record.Same(stands, r):
			fates[it.index].what = repeat
		case replace:
			fates[it.index].what = replaced
			stands = r
		default:
			fates[it.index] = fate{conflict, stands}
		}
	}
	return fates
}

// standsAt is the reading that is kept for that series and time.
func (t *txn) standsAt(x *series, at aquarium.Instant) (aquarium.Reading, bool) {
	t.learn(x)
	if t.s.after(at, x) {
		return aquarium.Reading{}, false
	}
	if r, ok := x.pendingAt(at); ok {
		return r, true
	}
	cols := t.sealed(x, stretchOf(x.group.number, at))
	for i := range cols {
		if n, found := slices.BinarySearch(cols[i].Times, int64(at)); found {
			return x.readingAt(&cols[i], n), true
		}
	}
	return aquarium.Reading{}, false
}

// after reports whether no reading of the series lies there or later.
func (s *Store) after(at aquarium.Instant, x *series) bool {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return at > x.newest()
}

// learn looks up the latest reading of a series whose last block is not over, as
// after Seal and a start: whatever comes after it then needs no more looking up.
func (t *txn) learn(x *series) {
	t.s.mu.RLock()
	known := x.known
	t.s.mu.RUnlock()
	if known {
		return
	}
	latest, ok := t.lastSealed(x)
	if !ok {
		return
	}
	for _, p := range x.group.open {
		if h := p.heads[x.number]; h != nil {
			if r := h.last(); r.At >= latest.At {
				latest = r
			}
		}
	}
	latest.Sensor = x.key
	t.s.mu.Lock()
	defer t.s.mu.Unlock()
	x.latest, x.known = latest, true
}

// lastSealed is the latest reading that is in a block. Nothing else of it is kept:
// a batch may be of every sensor there is.
func (t *txn) lastSealed(x *series) (latest aquarium.Reading, ok bool) {
	if x.first > x.last {
		return latest, false
	}
	cols, known := t.decoded[place{x.number, x.last}]
	if !known {
		var damage []*Damage
		if cols, damage = sealedColumns(t.bolt, t.s.path, x, x.last, t.room); len(damage) > 0 || len(cols) == 0 {
			cols = t.sealed(x, x.last) // once, and it tells
		} else {
			t.room = cols[0]
		}
	}
	for i := range cols {
		if r := x.readingAt(&cols[i], len(cols[i].Times)-1); !ok || r.At > latest.At {
			latest, ok = r, true
		}
	}
	return latest, ok
}

// sealed are the readings of a series in the block that begins at start. Those
// that are damaged are as if they were not: the values that come again stand.
func (t *txn) sealed(x *series, start aquarium.Instant) []record.Column {
	at := place{x.number, start}
	cols, ok := t.decoded[at]
	if ok || start < x.first || start > x.last {
		return cols
	}
	cols, damage := sealedColumns(t.bolt, t.s.path, x, start, record.Column{})
	for _, d := range damage {
		t.s.opt.Log.Warn("readings arrive for a damaged block", "sensor", x.key.String(), "err", d)
	}
	if t.decoded == nil {
		t.decoded = map[place][]record.Column{}
	}
	t.decoded[at] = cols
	return cols
}

// place is a series' part of a block.
type place struct {
	series uint32
	start  aquarium.Instant
}
