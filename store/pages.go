package store

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/fnv"
	"io"
	"os"
)

// bbolt follows the pointers in its pages on trust: a bent one makes it panic
// or, where it leads back up, go round for ever. So the pages are looked
// through here first, with plain reads. The layout is bbolt's version 2, as its
// package common defines it: numbers in the machine's byte order.
const (
	boltMagic   = 0xED0CDAED
	boltVersion = 2
	pageHeader  = 16
	elementLen  = 16

	branchPage   = 0x01
	leafPage     = 0x02
	freelistPage = 0x10
	bucketEntry  = 0x01
)

// depth is how much of the pages is read.
type depth int

const (
	skeleton depth = iota // branches, and the leaves that hold buckets: quick
	whole                 // every page in use
)

type pages struct {
	r    io.ReaderAt
	size int64 // of a page
	end  uint64
	seen pageSet
	// passed are leaves seen that were not read: pages they run on over are not
	// known.
	passed pageSet
	deep   depth
	// found gets the entries of the leaves that are read, and where their
	// values lie in the file, and ends it with an error; nil: nobody asks.
	found   func(at source, e element, offset int64) error
	stopped error // what found ended it with
	// only says which buckets are looked through; nil: all.
	only func(bucket string) bool
	// ahead tells the kernel what will be read soon; nil: it is not told.
	ahead func(from, n int64)
	// lost is told what cannot be read, and the rest is looked through all
	// the same; nil: the first thing that cannot be read ends it.
	lost func(gap)
}

// gap is a part of a tree that cannot be read: the keys from lo up to hi, where
// nil is no bound.
type gap struct {
	at     source
	lo, hi []byte
	page   uint64
	some   bool // only some of these keys
	err    error
}

// pageSet is a set of pages.
type pageSet []uint64

func newPageSet(end uint64) pageSet { return make(pageSet, (end+63)/64) }

func (s pageSet) has(id uint64) bool { return s[id/64]&(1<<(id%64)) != 0 }
func (s pageSet) add(id uint64)      { s[id/64] |= 1 << (id % 64) }

// metaPage is the part of a bbolt meta page that is needed here.
type metaPage struct {
	pageSize             uint32
	root, freelist, high uint64
	txid                 uint64
}

// verifyFile looks through the branches of a file that nobody is writing to. What
// it finds is a *Damage; spoilt is a meta page that the other makes up for. Who
// only reads can do with a damaged list of free pages.
func verifyFile(path string, readOnly bool) (spoilt *Damage, err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("check database: %w", err)
	}
	defer f.Close()
	m, err := readMetaPages(f)
	if err == nil {
		err = verifyPages(f, m, readOnly)
	}
	if err != nil {
		return nil, &Damage{File: path, Err: err}
	}
	if err := spoiltMeta(f, m); err != nil {
		spoilt = &Damage{File: path, Err: err}
	}
	return spoilt, nil
}

func verifyPages(f *os.File, m metaPage, readOnly bool) error {
	p, err := newPages(f, m, skeleton)
	if err != nil {
		return err
	}
	p.ahead = func(from, n int64) { readAhead(f, from, n) }
	p.foresee(m.root)
	if m.freelist != noFreelist {
		if _, err := p.read(m.freelist, freelistPage); err != nil {
			return err
		}
	}
	if err := p.bucket(source{}, m.root); err != nil || readOnly || m.freelist == noFreelist {
		return err
	}
	return p.freelist(m.freelist)
}

// noFreelist stands where a file has no list of free pages.
const noFreelist = ^uint64(0)

func newPages(f *os.File, m metaPage, deep depth) (*pages, error) {
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	if have := info.Size(); uint64(have)/uint64(m.pageSize) < m.high {
		return nil, fmt.Errorf("the file is cut off: %d bytes, want %d", have, m.high*uint64(m.pageSize))
	}
	return &pages{r: f, size: int64(m.pageSize), end: m.high, seen: newPageSet(m.high), passed: newPageSet(m.high), deep: deep}, nil
}

// readMetaPages picks the newest of the two meta pages that is whole.
func readMetaPages(r io.ReaderAt) (metaPage, error) {
	var best metaPage
	found := false
	var errs error
	for at := int64(0); at <= 65536; at = max(1024, 2*at) {
		b := make([]byte, pageHeader+64)
		if _, err := r.ReadAt(b, at); err != nil {
			break
		}
		m, err := parseMeta(b[pageHeader:])
		if err != nil {
			errs = errors.Join(errs, err)
			continue
		}
		if (at == 0 || at == int64(m.pageSize)) && (!found || m.txid > best.txid) {
			best, found = m, true
		}
	}
	if !found {
		return best, fmt.Errorf("meta pages: none is whole: %w", errs)
	}
	return best, nil
}

func parseMeta(b []byte) (metaPage, error) {
	u32, u64 := binary.NativeEndian.Uint32, binary.NativeEndian.Uint64
	if u32(b) != boltMagic || u32(b[4:]) != boltVersion {
		return metaPage{}, errors.New("magic number or version")
	}
	h := fnv.New64a()
	h.Write(b[:56])
	if h.Sum64() != u64(b[56:]) {
		return metaPage{}, errors.New("checksum")
	}
	m := metaPage{pageSize: u32(b[8:]), root: u64(b[16:]), freelist: u64(b[32:]), high: u64(b[40:]), txid: u64(b[48:])}
	if m.pageSize < 512 || m.pageSize > 65536 {
		return m, fmt.Errorf("page size %d", m.pageSize)
	}
	return m, nil
}

// read gives a page with its overflow, after checking that it is in the file,
// of that kind, and met for the first time.
func (p *pages) read(id uint64, kind uint16) ([]byte, error) {
	head, err := p.header(id)
	if err != nil {
		return nil, err
	}
	if head.flags&^(branchPage|leafPage|freelistPage) != 0 || head.flags&kind == 0 {
		return nil, fmt.Errorf("page %d: of kind %#x, want %#x", id, head.flags, kind)
	}
	for i := range head.overflow + 1 {
		if p.seen.has(id + i) {
			return nil, fmt.Errorf("page %d: used twice", id+i)
		}
	}
	for i := range head.overflow + 1 {
		p.seen.add(id + i)
	}
	b := make([]byte, (int64(head.overflow)+1)*p.size)
	if _, err := p.r.ReadAt(b, int64(id)*p.size); err != nil {
		return nil, fmt.Errorf("page %d: %w", id, err)
	}
	return b, nil
}

type header struct {
	flags    uint16
	count    int
	overflow uint64
}

func (p *pages) header(id uint64) (header, error) {
	if id < 2 || id >= p.end {
		return header{}, fmt.Errorf("page %d: not among pages 2 to %d", id, p.end-1)
	}
	var b [pageHeader]byte
	if _, err := p.r.ReadAt(b[:], int64(id)*p.size); err != nil {
		return header{}, fmt.Errorf("page %d: %w", id, err)
	}
	h := parseHeader(b[:])
	return h, h.fits(b[:], id, p.end)
}

// fits checks that a page's head says which page it is, and that what it runs on
// over is among the pages up to end.
func (h header) fits(b []byte, id, end uint64) error {
	if got := binary.NativeEndian.Uint64(b); got != id {
		return fmt.Errorf("page %d: says it is page %d", id, got)
	}
	if h.overflow >= end-id {
		return fmt.Errorf("page %d: runs %d pages on, beyond the end", id, h.overflow)
	}
	return nil
}

func parseHeader(b []byte) header {
	return header{
		flags:    binary.NativeEndian.Uint16(b[8:]),
		count:    int(binary.NativeEndian.Uint16(b[10:])),
		overflow: uint64(binary.NativeEndian.Uint32(b[12:])),
	}
}

// spoiltMeta says which of the two meta pages is damaged, given that one is
// whole. bbolt goes by the other then, in silence, and that may lack the last
// commit.
func spoiltMeta(r io.ReaderAt, m metaPage) error {
	for id := range int64(2) {
		b := make([]byte, 64)
		_, err := r.ReadAt(b, id*int64(m.pageSize)+pageHeader)
		if err == nil {
			_, err = parseMeta(b)
		}
		if err != nil {
			return fmt.Errorf("meta page %d: %w: the file is as of the other one, and may lack the last commit", id, err)
		}
	}
	return nil
}
