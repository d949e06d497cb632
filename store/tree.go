package store

import (
	"encoding/binary"
	"fmt"
)

// bucket looks through the tree of a bucket. All its leaves lie equally deep,
// so the way down its left side tells where they are without reading them.
func (p *pages) bucket(name string, root uint64) error {
	levels := 0
	for id := root; ; levels++ {
		h, err := p.header(id)
		if err != nil {
			return fmt.Errorf("bucket %q: %w", name, err)
		}
		if h.flags == leafPage {
			break
		}
		// Sixteen levels hold more than any disk.
		if h.flags != branchPage || h.count == 0 || levels == 16 {
			return fmt.Errorf("bucket %q: page %d: neither branch nor leaf", name, id)
		}
		var e [pageHeader + elementLen]byte
		if _, err := p.r.ReadAt(e[:], int64(id)*p.size); err != nil {
			return fmt.Errorf("bucket %q: page %d: %w", name, id, err)
		}
		id = binary.NativeEndian.Uint64(e[pageHeader+8:])
	}
	if err := p.tree(name, root, levels, nil, nil); err != nil {
		return fmt.Errorf("bucket %q: %w", name, err)
	}
	return nil
}

// tree looks through the part of a tree under page id, whose keys are from
// lo up to hi; nil is no bound.
func (p *pages) tree(name string, id uint64, levels int, lo, hi []byte) error {
	if levels == 0 {
		return p.leaf(name, id, lo, hi)
	}
	b, err := p.read(id, branchPage)
	if err != nil {
		return err
	}
	es, err := elements(b, id)
	if err != nil {
		return err
	}
	if err := ordered(es, id, lo, hi); err != nil {
		return err
	}
	for i, e := range es {
		next := hi
		if i+1 < len(es) {
			next = es[i+1].key
		}
		if err := p.tree(name, e.child, levels-1, e.key, next); err != nil {
			return err
		}
	}
	return nil
}

// leaf reads a leaf where buckets may lie in it, and every leaf when the whole
// file is looked through.
func (p *pages) leaf(name string, id uint64, lo, hi []byte) error {
	if p.deep == skeleton && name != "" && name != string(ledgerBucket) {
		if id < 2 || id >= p.end || p.seen[id] {
			return fmt.Errorf("page %d: out of the file or used twice", id)
		}
		p.seen[id] = true
		return nil
	}
	b, err := p.read(id, leafPage)
	if err != nil {
		return err
	}
	es, err := elements(b, id)
	if err != nil {
		return err
	}
	if err := ordered(es, id, lo, hi); err != nil {
		return err
	}
	for _, e := range es {
		if err := p.nested(name, id, e); err != nil {
			return err
		}
	}
	return nil
}

// nested looks through a bucket within a bucket: on pages of its own, or small
// enough to lie in the value.
func (p *pages) nested(parent string, id uint64, e element) error {
	if !e.bucket {
		return nil
	}
	if len(e.value) < 16 {
		return fmt.Errorf("page %d: bucket %q is cut off", id, e.key)
	}
	name := string(e.key)
	if parent != "" {
		name = parent + "/" + name
	}
	if root := binary.NativeEndian.Uint64(e.value); root != 0 {
		return p.bucket(name, root)
	}
	inline := e.value[16:]
	if len(inline) < pageHeader || parseHeader(inline).flags != leafPage {
		return fmt.Errorf("page %d: bucket %q is cut off", id, name)
	}
	es, err := elements(inline, id)
	if err != nil {
		return err
	}
	for _, e := range es {
		// bbolt keeps a bucket that holds buckets on pages of its own.
		if e.bucket {
			return fmt.Errorf("page %d: a bucket inside the small bucket %q", id, name)
		}
	}
	return ordered(es, id, nil, nil)
}

// element is one entry of a page.
type element struct {
	key, value []byte
	child      uint64
	bucket     bool
}

func elements(b []byte, id uint64) ([]element, error) {
	u32 := binary.NativeEndian.Uint32
	h := parseHeader(b)
	if len(b) < pageHeader+h.count*elementLen {
		return nil, fmt.Errorf("page %d: %d entries do not fit", id, h.count)
	}
	es := make([]element, h.count)
	for i := range es {
		at := pageHeader + i*elementLen
		raw := b[at:]
		var pos, ksize, vsize uint64
		if h.flags == branchPage {
			pos, ksize = uint64(u32(raw)), uint64(u32(raw[4:]))
			es[i].child = binary.NativeEndian.Uint64(raw[8:])
		} else {
			es[i].bucket = u32(raw)&bucketEntry != 0
			pos, ksize, vsize = uint64(u32(raw[4:])), uint64(u32(raw[8:])), uint64(u32(raw[12:]))
		}
		from := uint64(at) + pos
		if pos < uint64((h.count-i)*elementLen) || from+ksize+vsize > uint64(len(b)) {
			return nil, fmt.Errorf("page %d: entry %d points outside", id, i)
		}
		es[i].key, es[i].value = b[from:from+ksize], b[from+ksize:from+ksize+vsize]
	}
	return es, nil
}

// ordered checks that keys rise, and lie where the branch above says.
func ordered(es []element, id uint64, lo, hi []byte) error {
	for i, e := range es {
		switch {
		case i > 0 && string(e.key) <= string(es[i-1].key):
			return fmt.Errorf("page %d: entry %d is out of order", id, i)
		case lo != nil && string(e.key) < string(lo), hi != nil && string(e.key) >= string(hi):
			return fmt.Errorf("page %d: entry %d belongs to another page", id, i)
		}
	}
	return nil
}
