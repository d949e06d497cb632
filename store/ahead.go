package store

import (
	"bytes"
	"encoding/binary"
	"os"
	"slices"

	"go.etcd.io/bbolt"
)

// A disk gives many pages that are asked for at once much sooner than one after
// another, and at a start none is in memory. So before the branches are looked
// through the kernel is told, level by level and of all trees together, which
// pages that will read, and which leaves the start reads besides.

// foreseen is a level of a tree that will be read, or its first page.
type foreseen struct {
	at  source
	ids []uint64
}

// readAtStart are the buckets whose leaves a start reads, all of them.
var readAtStart = []string{string(seriesBucket), string(boundsBucket), string(logBucket)}

// foresee tells of all trees below the root. It checks nothing: what is damaged
// leads to pages that are told of in vain, each of them once.
func (p *pages) foresee(root uint64) {
	met := newPageSet(p.end)
	for levels := []foreseen{{ids: []uint64{root}}}; len(levels) > 0; {
		for i, l := range levels {
			levels[i].ids = slices.DeleteFunc(l.ids, func(id uint64) bool {
				known := id < 2 || id >= p.end || met.has(id)
				if !known {
					met.add(id)
				}
				return known
			})
		}
		levels = slices.DeleteFunc(levels, func(l foreseen) bool { return len(l.ids) == 0 })
		levels = p.below(levels)
	}
}

// fewPages are told of at once rather than after a look at the first.
const fewPages = 16

// below is what lies below levels of trees. All leaves of a tree lie equally deep,
// so the first page of a level tells whether the others will be read.
func (p *pages) below(levels []foreseen) (next []foreseen) {
	var first, others []uint64
	for _, l := range levels {
		if len(l.ids) <= fewPages || l.at.holdsBuckets() || slices.Contains(readAtStart, l.at.bucket) {
			first = append(first, l.ids...)
		} else {
			first = append(first, l.ids[0])
		}
	}
	p.tellAhead(first)
	levels = slices.DeleteFunc(levels, func(l foreseen) bool {
		h, err := p.header(l.ids[0])
		branch := err == nil && h.flags == branchPage
		if branch && len(l.ids) > fewPages {
			others = append(others, l.ids[1:]...)
		}
		return !branch && !l.at.holdsBuckets()
	})
	p.tellAhead(others)
	for _, l := range levels {
		here := foreseen{at: l.at}
		for _, id := range l.ids {
			for _, e := range p.glance(id) {
				switch {
				case e.child != 0:
					here.ids = append(here.ids, e.child)
				case e.bucket && len(e.value) >= bucketHeader:
					next = append(next, foreseen{l.at.within(e.key), []uint64{binary.NativeEndian.Uint64(e.value)}})
				}
			}
		}
		next = append(next, here)
	}
	return next
}

// glance gives a page's entries as far as they can be read.
func (p *pages) glance(id uint64) []element {
	h, err := p.header(id)
	if err != nil {
		return nil
	}
	b := make([]byte, (int64(h.overflow)+1)*p.size)
	if _, err := p.r.ReadAt(b, int64(id)*p.size); err != nil {
		return nil
	}
	es, _ := elements(b, id)
	return es
}

// tellAhead tells the kernel that pages will be read soon, those that lie
// together at once.
func (p *pages) tellAhead(ids []uint64) {
	if p.ahead == nil {
		return
	}
	slices.Sort(ids)
	for len(ids) > 0 {
		n := 1
		for n < len(ids) && ids[n] == ids[0]+uint64(n) {
			n++
		}
		p.ahead(int64(ids[0])*p.size, int64(n)*p.size)
		ids = ids[n:]
	}
}

// aheadPages is how much of a leaf is told of: sums, which it is for, fill two
// pages, or a little more.
const aheadPages = 3

// foreseeValues tells ahead of the values under keys, in order, of a bucket on
// pages of its own. Where that fails, whoever reads them only waits longer.
func (s *Store) foreseeValues(bucket []byte, keys [][]byte) {
	f, err := os.Open(s.path)
	if err != nil {
		return
	}
	defer f.Close()
	_ = s.read(func(tx *bbolt.Tx) error {
		b, size := tx.Bucket(bucket), int64(tx.DB().Info().PageSize)
		p := pages{r: f, size: size, end: uint64(tx.Size() / size), ahead: func(from, n int64) { readAhead(f, from, n) }}
		p.tellAhead(p.leavesOf(uint64(b.Root()), keys))
		return nil
	})
}

// leavesOf are the pages of the leaves that have the keys, or would.
func (p *pages) leavesOf(root uint64, keys [][]byte) (ids []uint64) {
	levels, ok := p.levelsTo(root, keys[0])
	if !ok {
		return nil
	}
	for _, id := range p.toward(nil, root, levels, keys) {
		for n := range uint64(aheadPages) {
			ids = append(ids, min(id+n, p.end-1))
		}
	}
	slices.Sort(ids)
	return slices.Compact(ids)
}

// levelsTo is how many levels of branches lead to a key.
func (p *pages) levelsTo(id uint64, key []byte) (n int, ok bool) {
	for ; n < deepest; n++ {
		h, err := p.header(id)
		if err != nil || h.flags != branchPage {
			return n, err == nil
		}
		found := p.toward(nil, id, 1, [][]byte{key})
		if len(found) == 0 {
			return n, false
		}
		id = found[0]
	}
	return n, false
}

// toward appends the pages, so many levels below a page, that lead to keys.
func (p *pages) toward(ids []uint64, id uint64, levels int, keys [][]byte) []uint64 {
	if levels == 0 {
		return append(ids, id)
	}
	es := p.glance(id)
	for i := range es {
		n := len(keys)
		if i+1 < len(es) {
			n, _ = slices.BinarySearchFunc(keys, es[i+1].key, bytes.Compare)
		}
		if n > 0 {
			ids = p.toward(ids, es[i].child, levels-1, keys[:n])
			keys = keys[n:]
		}
	}
	return ids
}
