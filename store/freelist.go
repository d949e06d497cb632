package store

import (
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
)

// bbolt writes over what its list of free pages names, on trust: one bent
// number in it, and the next commit destroys a page in use. So no file is
// written to before the list has been held against the pages in use.

// manyFreePages, for a number of free pages, are too many for the head: it comes
// before them.
const manyFreePages = 0xffff

// freelist checks the list of free pages once the trees have been looked
// through.
func (p *pages) freelist(id uint64) error {
	ids, err := p.freeIDs(id)
	if err != nil {
		return err
	}
	var leaves, frees []uint64
	for i, f := range ids {
		switch {
		case f < 2 || f >= p.end:
			return fmt.Errorf("list of free pages: page %d is not among pages 2 to %d", f, p.end-1)
		case i > 0 && f <= ids[i-1]:
			return fmt.Errorf("list of free pages: page %d follows page %d", f, ids[i-1])
		case p.seen.has(f):
			return fmt.Errorf("list of free pages: page %d is in use", f)
		case i > 0 && f == ids[i-1]+1:
			continue // nothing in use begins between them
		}
		if leaf := p.passedBefore(f); leaf != 0 {
			leaves, frees = append(leaves, leaf), append(frees, f)
		}
	}
	p.tellAhead(slices.Clone(leaves))
	for i, leaf := range leaves {
		h, err := p.header(leaf)
		if err == nil && leaf+h.overflow >= frees[i] {
			err = fmt.Errorf("list of free pages: page %d is in use, by page %d", frees[i], leaf)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// passedBefore is the last page in use before a free one, where that may run on
// over it: of leaves that were passed over it is not known yet how long they are.
// All of any other is among the pages seen, and then it is 0.
func (p *pages) passedBefore(free uint64) uint64 {
	before := free
	for before > 2 && !p.seen.has(before) {
		before--
	}
	if !p.passed.has(before) {
		return 0
	}
	return before
}

// reached checks that every page is in use or free, once all of them have been
// read. One that is neither hung on a pointer that now leads elsewhere, to what
// looks like a smaller tree.
func (p *pages) reached(list uint64) error {
	free, err := p.free(list)
	if err != nil {
		return err
	}
	lost, first := 0, uint64(0)
	for id := uint64(2); id < p.end; id++ {
		if p.seen.has(id) || free.has(id) {
			continue
		}
		if lost++; first == 0 {
			first = id
		}
	}
	if lost > 0 {
		return fmt.Errorf("page %d, and %d more, are neither in use nor free: what led to them is lost", first, lost-1)
	}
	return nil
}

// freeIDs reads the list of free pages.
func (p *pages) freeIDs(id uint64) ([]uint64, error) {
	if id == noFreelist {
		return nil, errors.New("the file has no list of free pages")
	}
	head, err := p.header(id)
	if err != nil {
		return nil, err
	}
	if head.flags != freelistPage {
		return nil, fmt.Errorf("page %d: no list of free pages", id)
	}
	b := make([]byte, (int64(head.overflow)+1)*p.size)
	if _, err := p.r.ReadAt(b, int64(id)*p.size); err != nil {
		return nil, fmt.Errorf("page %d: %w", id, err)
	}
	list, n := b[pageHeader:], uint64(head.count)
	if n == manyFreePages {
		n, list = binary.NativeEndian.Uint64(list), list[8:]
	}
	if n > uint64(len(list)/8) {
		return nil, fmt.Errorf("page %d: %d free pages do not fit", id, n)
	}
	ids := make([]uint64, n)
	for i := range ids {
		ids[i] = binary.NativeEndian.Uint64(list[i*8:])
	}
	return ids, nil
}

// free is the set of free pages.
func (p *pages) free(id uint64) (pageSet, error) {
	ids, err := p.freeIDs(id)
	if err != nil {
		return nil, err
	}
	set := newPageSet(p.end)
	for _, f := range ids {
		if f < p.end {
			set.add(f)
		}
	}
	return set, nil
}
