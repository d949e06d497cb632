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
	err := s.write(func(t *txn) error {
		if first != nil {
			if err := first(t, &b); err != nil {
				return err
			}
		}
		fates, err := t.place(b, replace)
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
		return t.call(func() error { return hook(&documents{tx: t.bolt, path: s.path, write: true}, out) })
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
	series uint32
	index  int
	at     aquarium.Instant
}

// place writes the batch's readings series by series, each in order of time,
// and of two for the same time the one given first before the other.
func (t *txn) place(b aquarium.Batch, replace bool) ([]fate, error) {
	items := make([]item, len(b.Readings))
	known := map[aquarium.SensorKey]uint32{}
	for i, r := range b.Readings {
		id, ok := known[r.Sensor]
		if !ok {
			var err error
			if id, err = t.seriesOf(r.Sensor); err != nil {
				return nil, err
			}
			known[r.Sensor] = id
		}
		items[i] = item{id, i, r.At}
	}
	slices.SortFunc(items, func(a, b item) int {
		return cmp.Or(cmp.Compare(a.series, b.series), cmp.Compare(a.at, b.at), cmp.Compare(a.index, b.index))
	})
	fates := make([]fate, len(items))
	for len(items) > 0 {
		n := 1
		for n < len(items) && items[n].series == items[0].series {
			n++
		}
		if err := t.placeSeries(b.Readings, items[:n], fates, replace); err != nil {
			return nil, err
		}
		items = items[n:]
	}
	return fates, nil
}

func (t *txn) placeSeries(rs []aquarium.Reading, items []item, fates []fate, replace bool) error {
	k := rs[items[0].index].Sensor
	t.newest[k] = rs[items[len(items)-1].index]
	for len(items) > 0 {
		slot, err := t.find(k, items[0].series, items[0].at)
		if err != nil {
			return err
		}
		n := slot.reach(items)
		merged, changed := merge(slot.old, rs, items[:n], fates, replace)
		if changed {
			if err := t.put(slot, merged); err != nil {
				return err
			}
		}
		if last := merged[len(merged)-1]; last.At == t.newest[k].At {
			t.newest[k] = last // the one that stands
		}
		items = items[n:]
	}
	return nil
}

// merge puts readings into a block's, all in order of time.
func merge(old record.Block, rs []aquarium.Reading, items []item, fates []fate, replace bool) (record.Block, bool) {
	merged := make(record.Block, 0, len(old)+len(items))
	changed := false
	for _, it := range items {
		r := rs[it.index]
		for len(old) > 0 && old[0].At <= r.At {
			merged, old = append(merged, old[0]), old[1:]
		}
		n := len(merged)
		switch {
		case n == 0 || merged[n-1].At != r.At:
			merged = append(merged, r)
			changed = true
		case record.Same(merged[n-1], r):
			fates[it.index].what = repeat
		case replace:
			merged[n-1] = r
			fates[it.index].what = replaced
			changed = true
		default:
			fates[it.index] = fate{conflict, merged[n-1]}
		}
	}
	return append(merged, old...), changed
}
