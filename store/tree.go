package store

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"fmt"
)

// deepest is how many levels a tree may have: sixteen hold more than any disk.
const deepest = 16

// bucket looks through the tree of a bucket.
func (p *pages) bucket(at source, root uint64) error {
	levels := deepest
	if p.deep == skeleton {
		var err error
		if levels, err = p.levels(root); err != nil {
			return fmt.Errorf("bucket %q: %w", at, err)
		}
	}
	if err := p.tree(at, root, levels, nil, nil); err != nil {
		return fmt.Errorf("bucket %q: %w", at, err)
	}
	return nil
}

// levels is how many levels of branches a tree has. All its leaves lie equally
// deep, so the way down its left side tells where they are without reading
// them.
func (p *pages) levels(root uint64) (n int, err error) {
	for id := root; ; n++ {
		h, err := p.header(id)
		if err != nil {
			return 0, err
		}
		if h.flags == leafPage {
			return n, nil
		}
		if h.flags != branchPage || h.count == 0 || n == deepest {
			return 0, fmt.Errorf("page %d: neither branch nor leaf", id)
		}
		var e [pageHeader + elementLen]byte
		if _, err := p.r.ReadAt(e[:], int64(id)*p.size); err != nil {
			return 0, fmt.Errorf("page %d: %w", id, err)
		}
		id = binary.NativeEndian.Uint64(e[pageHeader+8:])
	}
}

// tree looks through the part of a tree under page id, whose keys are from lo
// up to hi; nil is no bound.
func (p *pages) tree(at source, id uint64, levels int, lo, hi []byte) error {
	err := p.page(at, id, levels, lo, hi)
	if err != nil && p.lost != nil && p.stopped == nil {
		p.lost(gap{at: at, lo: lo, hi: hi, page: id, err: err})
		return nil
	}
	return err
}

func (p *pages) page(at source, id uint64, levels int, lo, hi []byte) error {
	kind := uint16(branchPage)
	switch {
	case p.deep == skeleton && levels == 0:
		if !at.holdsBuckets() {
			return p.pass(id)
		}
		kind = leafPage
	case p.deep == whole:
		kind |= leafPage
	}
	b, err := p.read(id, kind)
	if err != nil {
		return err
	}
	h := parseHeader(b)
	es, err := elements(b, id)
	err = cmp.Or(err, ordered(es, id, lo, hi))
	if p.deep == whole {
		err = cmp.Or(err, dense(b, h, id, int(p.size)), blank(b, es, id), led(es, id, lo))
	}
	if err != nil {
		if p.lost == nil {
			return err
		}
		p.lost(gap{at: at, lo: lo, hi: hi, page: id, some: true, err: err})
	}
	if h.flags == leafPage {
		return p.leaf(at, id, es)
	}
	if levels == 0 {
		return fmt.Errorf("page %d: a branch %d levels deep", id, deepest)
	}
	return p.branch(at, es, levels-1, hi)
}

// pass counts a leaf as seen that is not read.
func (p *pages) pass(id uint64) error {
	if id < 2 || id >= p.end || p.seen.has(id) {
		return fmt.Errorf("page %d: out of the file or used twice", id)
	}
	p.seen.add(id)
	p.passed.add(id)
	return nil
}

func (p *pages) branch(at source, es []element, levels int, hi []byte) error {
	for i, e := range es {
		if e.bad {
			continue
		}
		next := hi
		if i+1 < len(es) && !es[i+1].bad {
			next = es[i+1].key
		}
		if err := p.tree(at, e.child, levels, e.key, next); err != nil {
			return err
		}
	}
	return nil
}

func (p *pages) leaf(at source, id uint64, es []element) error {
	for _, e := range es {
		switch {
		case e.bad, e.bucket && at.bucket == "" && p.only != nil && !p.only(string(e.key)):
		case e.bucket:
			if err := p.nested(at, id, e); err != nil {
				if p.lost == nil || p.stopped != nil {
					return err
				}
				p.lost(gap{at: at, lo: e.key, hi: append(e.key[:len(e.key):len(e.key)], 0), page: id, err: err})
			}
		default:
			if err := p.tell(at, id, e); err != nil {
				return err
			}
		}
	}
	return nil
}

// tell gives found an entry. When it wants no more, that is the end whatever
// else is wrong.
func (p *pages) tell(at source, id uint64, e element) error {
	if p.found != nil && p.stopped == nil {
		p.stopped = p.found(at, e, int64(id)*p.size+int64(e.offset))
	}
	return p.stopped
}

// nested looks through a bucket within a bucket: on pages of its own, or small
// enough to lie in the value.
func (p *pages) nested(parent source, id uint64, e element) error {
	if len(e.value) < bucketHeader {
		return fmt.Errorf("page %d: bucket %q is cut off", id, e.key)
	}
	at := parent.within(e.key)
	if err := p.tell(at, id, e); err != nil {
		return err
	}
	if root := binary.NativeEndian.Uint64(e.value); root != 0 {
		return p.bucket(at, root)
	}
	inline, h, err := inlinePage(e.value, id)
	if err != nil {
		return err
	}
	es, err := elements(inline, id)
	err = cmp.Or(err, ordered(es, id, nil, nil), dense(inline, h, id, 1))
	for i, e := range es {
		// bbolt keeps a bucket that holds buckets on pages of its own.
		if e.bucket {
			es[i].bad, err = true, cmp.Or(err, fmt.Errorf("page %d: a bucket inside the small bucket %q", id, at))
		}
	}
	if err != nil && p.lost == nil {
		return err
	}
	for i := range es {
		es[i].offset += e.offset + bucketHeader
	}
	return cmp.Or(p.leaf(at, id, es), err)
}

// inlinePage is the page that lies in the value of a small bucket. It has no
// place of its own: were it to name one, bbolt would free that page once the
// bucket has grown.
func inlinePage(value []byte, id uint64) ([]byte, header, error) {
	b := value[bucketHeader:]
	if len(b) < pageHeader {
		return nil, header{}, fmt.Errorf("page %d: a small bucket is cut off", id)
	}
	h := parseHeader(b)
	if h.flags != leafPage || h.overflow != 0 || binary.NativeEndian.Uint64(b) != 0 {
		return nil, h, fmt.Errorf("page %d: a small bucket's page is no leaf, or names a place", id)
	}
	return b, h, nil
}

// bucketHeader is what a bucket's value begins with: the page of its root, and
// its sequence.
const bucketHeader = 16

// element is one entry of a page.
type element struct {
	key, value []byte
	child      uint64
	offset     int // of the value in the page
	bucket     bool
	bad        bool // points outside of the page
}

func elements(b []byte, id uint64) ([]element, error) {
	h := parseHeader(b)
	if len(b) < pageHeader+h.count*elementLen {
		return nil, fmt.Errorf("page %d: %d entries do not fit", id, h.count)
	}
	es := make([]element, h.count)
	var err error
	for i := range es {
		if es[i] = entryOf(b, h, i); es[i].bad {
			err = cmp.Or(err, fmt.Errorf("page %d: entry %d points outside", id, i))
		}
	}
	return es, err
}

// entryOf is the i-th entry of a page that its list of entries fits into.
func entryOf(b []byte, h header, i int) (e element) {
	at := pageHeader + i*elementLen
	raw := b[at : at+elementLen]
	pos, ksize, vsize := spanOf(raw, h.flags)
	if h.flags == branchPage {
		e.child = binary.NativeEndian.Uint64(raw[8:])
	} else {
		e.bucket = binary.NativeEndian.Uint32(raw)&bucketEntry != 0
	}
	from := uint64(at) + pos
	if pos < uint64((h.count-i)*elementLen) || from+ksize+vsize > uint64(len(b)) {
		e.bad = true
		return e
	}
	e.key, e.value = b[from:from+ksize:from+ksize], b[from+ksize:from+ksize+vsize]
	e.offset = int(from + ksize)
	return e
}

// spanOf is where an entry's key and value lie, from its place in the list, and how
// long they are.
func spanOf(raw []byte, flags uint16) (pos, ksize, vsize uint64) {
	u32 := binary.NativeEndian.Uint32
	if flags == branchPage {
		return uint64(u32(raw)), uint64(u32(raw[4:])), 0
	}
	return uint64(u32(raw[4:])), uint64(u32(raw[8:])), uint64(u32(raw[12:]))
}

// ordered checks that keys rise, and lie where the branch above says.
func ordered(es []element, id uint64, lo, hi []byte) error {
	for i, e := range es {
		switch {
		case e.bad:
		case i > 0 && !es[i-1].bad && string(e.key) <= string(es[i-1].key):
			return fmt.Errorf("page %d: entry %d is out of order", id, i)
		case lo != nil && string(e.key) < string(lo), hi != nil && string(e.key) >= string(hi):
			return fmt.Errorf("page %d: entry %d belongs to another page", id, i)
		}
	}
	return nil
}

// led checks that a page begins with the key that the page above has for it, as
// bbolt leaves every page: it looks for the entry above by that. A nil lo: none is
// above.
func led(es []element, id uint64, lo []byte) error {
	if lo != nil && (len(es) == 0 || !es[0].bad && string(es[0].key) != string(lo)) {
		return fmt.Errorf("page %d: its first entry is not that which leads to it", id)
	}
	return nil
}

// dense checks that the entries lie one after another from where their list
// ends, by the order of their keys, as bbolt writes them, and on no more pages than
// they need: a number of entries that has become less would hide some without a
// trace. room is what a page has, or 1 for one that lies in a value: so much may
// not be left behind the last entry.
func dense(b []byte, h header, id uint64, room int) error {
	list := b[pageHeader:]
	if len(list) < h.count*elementLen {
		return fmt.Errorf("page %d: %d entries do not fit", id, h.count)
	}
	at := pageHeader + h.count*elementLen
	var key []byte
	for i := range h.count {
		pos, ksize, vsize := spanOf(list[i*elementLen:][:elementLen], h.flags)
		switch {
		case uint64(pageHeader+i*elementLen)+pos != uint64(at):
			return fmt.Errorf("page %d: entry %d does not follow the one before", id, i)
		case ksize+vsize > uint64(len(b)-at):
			return fmt.Errorf("page %d: entry %d points outside", id, i)
		case ksize == 0:
			return fmt.Errorf("page %d: entry %d has no key", id, i)
		}
		next := b[at : at+int(ksize)]
		if string(next) <= string(key) {
			return fmt.Errorf("page %d: entry %d is out of order", id, i)
		}
		key, at = next, at+int(ksize+vsize)
	}
	if len(b)-at >= room {
		return fmt.Errorf("page %d: runs %d pages on, more than its entries need", id, h.overflow)
	}
	return nil
}

// blank checks that there is nothing behind the last entry, for who looks for what
// is hidden there. A bit that has come to be there costs nothing.
func blank(b []byte, es []element, id uint64) error {
	at := pageHeader
	if n := len(es); n > 0 {
		at = es[n-1].offset + len(es[n-1].value)
	}
	// All are zero where the first is, and each is as the one before.
	if rest := b[at:]; len(rest) > 0 && (rest[0] != 0 || !bytes.Equal(rest[1:], rest[:len(rest)-1])) {
		return fmt.Errorf("page %d: more than its %d entries", id, len(es))
	}
	return nil
}

// orphans gives fn the entries of the leaves that nothing leads to and that are
// not free: they hung on a page that cannot be read.
func (p *pages) orphans(freelist uint64, fn func(e element, offset int64) error) error {
	free, err := p.free(freelist)
	if err != nil {
		return err
	}
	for id := uint64(2); id < p.end; id++ {
		if p.seen.has(id) || free.has(id) {
			continue
		}
		b, err := p.read(id, leafPage)
		if err != nil {
			continue // no leaf, or the rest of one that cannot be read
		}
		es, _ := elements(b, id)
		for _, e := range es {
			if e.bad || e.bucket {
				continue
			}
			if err := fn(e, int64(id)*p.size+int64(e.offset)); err != nil {
				return err
			}
		}
	}
	return nil
}
