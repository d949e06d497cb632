package store

import (
	"encoding/binary"
	"fmt"
	"unsafe"

	"go.etcd.io/bbolt"
)

// mapped are the pages of the file as a transaction finds them, in bbolt's map of
// it. Until it ends, or commits, bbolt leaves them and the map as they are.
type mapped struct {
	base unsafe.Pointer
	size uint64 // of a page
	end  uint64
	root uint64 // of the bucket that holds all others
	// sound are pages that were looked at in this transaction. The next looks
	// anew: what was good an hour ago may have been read from the disk again.
	sound map[uint64]bool
}

func mappedBy(tx *bbolt.Tx) mapped {
	info := tx.DB().Info()
	return mapped{
		// bbolt tells the address as a number. What it maps is not Go's memory,
		// and is never moved.
		base: *(*unsafe.Pointer)(unsafe.Pointer(&info.Data)),
		size: uint64(info.PageSize), end: uint64(tx.Size()) / uint64(info.PageSize),
		root:  uint64(tx.Cursor().Bucket().Root()),
		sound: map[uint64]bool{},
	}
}

func (m *mapped) bytes(id, n uint64) []byte {
	return unsafe.Slice((*byte)(unsafe.Add(m.base, id*m.size)), n*m.size)
}

// sheet is a page with what it runs on over, or one that lies in a value.
type sheet struct {
	header
	id uint64 // of the page it lies in
	b  []byte
}

// entry is the i-th entry, of a page that is sound.
func (p sheet) entry(i int) element { return entryOf(p.b, p.header, i) }

// page gives a page that can be taken for what it says: it is in its place, its
// entries fill what it runs on over, and the first is that which the page above
// has for it; nil: none is above.
func (m *mapped) page(id uint64, first []byte) (sheet, error) {
	if id < 2 || id >= m.end {
		return sheet{}, fmt.Errorf("page %d: not among pages 2 to %d", id, m.end-1)
	}
	b := m.bytes(id, 1)
	p := sheet{parseHeader(b), id, b}
	if err := p.fits(b, id, m.end); err != nil {
		return p, err
	}
	if p.flags != leafPage && p.flags != branchPage {
		return p, fmt.Errorf("page %d: neither branch nor leaf", id)
	}
	p.b = m.bytes(id, p.overflow+1)
	if !m.sound[id] {
		err := dense(p.b, p.header, id, int(m.size))
		if err == nil && p.count == 0 {
			err = blank(p.b, nil, id)
		}
		if err != nil {
			return p, err
		}
		m.sound[id] = true
	}
	switch {
	case p.count == 0 && (first != nil || p.flags == branchPage):
		return p, fmt.Errorf("page %d: no entries", id)
	case first != nil && string(p.entry(0).key) != string(first):
		return p, fmt.Errorf("page %d: its first entry is not that which leads to it", id)
	}
	return p, nil
}

// rootOf is the page that a bucket begins with, given its value in page id.
func (m *mapped) rootOf(value []byte, id uint64) (sheet, error) {
	if len(value) < bucketHeader {
		return sheet{}, fmt.Errorf("page %d: a bucket is cut off", id)
	}
	if root := binary.NativeEndian.Uint64(value); root != 0 {
		return m.page(root, nil)
	}
	b, h, err := inlinePage(value, id)
	if err == nil {
		err = dense(b, h, id, 1)
	}
	return sheet{h, id, b}, err
}

// list looks at the head of the list of free pages, which bbolt frees and writes
// anew with every commit. It is as long as bbolt made it: for those that are free,
// and its own where it found them among these, and a number where they are many.
func (m *mapped) list() error {
	id, err := m.listed()
	if err != nil || id == noFreelist {
		return err
	}
	if id < 2 || id >= m.end {
		return fmt.Errorf("list of free pages: page %d is not among pages 2 to %d", id, m.end-1)
	}
	b := m.bytes(id, 1)
	h := parseHeader(b)
	if err := h.fits(b, id, m.end); err != nil {
		return fmt.Errorf("list of free pages: %w", err)
	}
	if h.flags != freelistPage {
		return fmt.Errorf("list of free pages: page %d: of kind %#x, want %#x", id, h.flags, freelistPage)
	}
	n := uint64(h.count)
	if n == manyFreePages {
		n = 1 + binary.NativeEndian.Uint64(b[pageHeader:])
	}
	least, most := (pageHeader+8*n)/m.size, (pageHeader+8*(n+h.overflow+2))/m.size
	if h.overflow < least || h.overflow > most {
		return fmt.Errorf("list of free pages: page %d: runs %d pages on, more or less than %d free pages need", id, h.overflow, n)
	}
	return nil
}

// listed is the page of the list of free pages, by the newer meta page that is
// whole: the one bbolt goes by.
func (m *mapped) listed() (uint64, error) {
	var best metaPage
	found := false
	for id := range uint64(2) {
		meta, err := parseMeta(m.bytes(id, 1)[pageHeader:])
		if err == nil && (!found || meta.txid > best.txid) {
			best, found = meta, true
		}
	}
	if !found {
		return 0, fmt.Errorf("meta pages: none is whole")
	}
	return best.freelist, nil
}
