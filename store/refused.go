package store

import (
	"encoding/binary"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// refusedAt is where one refusal lies and what it is counted under.
type refusedAt struct {
	n      uint64
	reason aquarium.Reason
	source string
	fresh  int // its index in the batch being written, else -1
}

// Refused lists the last payloads that could not be taken, newest first, at
// most limit. record.RefusedEach are kept for each reason and source and
// record.RefusedAll altogether.
func (s *Store) Refused(limit int) []aquarium.Refusal {
	return lastOf(s, refusedBucket, limit, record.DecodeRefusal)
}

// shelveRefused decides first which refusals of the batch will be left at its
// end: a gateway gone mad sends thousands, of which twenty are worth a write.
func (t *txn) shelveRefused(rs []aquarium.Refusal) error {
	if len(rs) == 0 {
		return nil
	}
	b, st := t.bucket(refusedBucket), &t.s.shelf
	if !st.refusedRead {
		t.readRefused()
	}
	n := b.Sequence()
	for i, r := range rs {
		n++
		st.refused = append(st.refused, refusedAt{n, r.Reason, r.Source, i})
	}
	if err := b.SetSequence(n); err != nil {
		return err
	}
	kept, dropped := trimRefused(st.refused)
	for _, at := range dropped {
		if at.fresh >= 0 {
			continue
		}
		if err := b.Delete(sequenceKey(at.n)); err != nil {
			return err
		}
	}
	for i, at := range kept {
		if at.fresh < 0 {
			continue
		}
		key := sequenceKey(at.n)
		if err := b.Put(key, record.Seal(nil, key, record.EncodeRefusal(rs[at.fresh]))); err != nil {
			return err
		}
		kept[i].fresh = -1
	}
	st.refused = kept
	return nil
}

func (t *txn) readRefused() {
	st := &t.s.shelf
	st.refused, st.refusedRead = nil, true
	c := t.bolt.Bucket(refusedBucket).Cursor()
	for k, v := c.First(); k != nil; k, v = c.Next() {
		if r, ok := unseal(t.s, refusedBucket, k, v, record.DecodeRefusal); ok && len(k) == 8 {
			st.refused = append(st.refused, refusedAt{binary.BigEndian.Uint64(k), r.Reason, r.Source, -1})
		}
	}
}

// trimRefused keeps the newest of each reason and source, and of all.
func trimRefused(all []refusedAt) (kept, dropped []refusedAt) {
	type group struct {
		reason aquarium.Reason
		source string
	}
	seen, left := map[group]int{}, 0
	drop := make([]bool, len(all))
	for i := len(all) - 1; i >= 0; i-- {
		g := group{all[i].reason, all[i].source}
		seen[g]++
		drop[i] = seen[g] > record.RefusedEach || left == record.RefusedAll
		if !drop[i] {
			left++
		}
	}
	for i, at := range all {
		if drop[i] {
			dropped = append(dropped, at)
		} else {
			kept = append(kept, at)
		}
	}
	return kept, dropped
}
