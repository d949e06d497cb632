package proof

import (
	"encoding/binary"
	"fmt"
)

// region is what a byte of a database file is for.
type region string

const (
	freeBytes   region = "free pages, and what is unused of others"
	metaNow     region = "meta page in force"
	metaBefore  region = "meta page before it"
	freeList    region = "free list"
	pageHead    region = "head of a page"
	element     region = "element of a page"
	keys        region = "key"
	bucketRoot  region = "root of a bucket"
	bucketCount region = "sequence of a bucket"
	values      region = "value" // of a record: it has a checksum
)

const pageSize = 4096

// layout tells the region of every byte. The layout of pages is bbolt's version
// 2, as its package common defines it.
func layout(file []byte) ([]region, error) {
	l := layouter{file, make([]region, len(file))}
	for i := range l.regions {
		l.regions[i] = freeBytes
	}
	now, before := 0, 1
	if l.u64(pageSize+16+48) > l.u64(16+48) {
		now, before = 1, 0
	}
	l.mark(now*pageSize, 80, metaNow)
	l.mark(before*pageSize, 80, metaBefore)
	meta := now*pageSize + 16
	free := int(l.u64(meta+32)) * pageSize
	l.mark(free, 16, pageHead)
	l.mark(free+16, 8*int(binary.LittleEndian.Uint16(file[free+10:])), freeList)
	return l.regions, l.page(int(l.u64(meta+16)) * pageSize)
}

type layouter struct {
	file    []byte
	regions []region
}

func (l *layouter) u64(at int) uint64 { return binary.LittleEndian.Uint64(l.file[at:]) }
func (l *layouter) u32(at int) int    { return int(binary.LittleEndian.Uint32(l.file[at:])) }

func (l *layouter) mark(at, n int, r region) {
	for i := range n {
		l.regions[at+i] = r
	}
}

// page marks a page, or one that lies within a value, and all below it.
func (l *layouter) page(at int) error {
	flags, count := binary.LittleEndian.Uint16(l.file[at+8:]), int(binary.LittleEndian.Uint16(l.file[at+10:]))
	l.mark(at, 16, pageHead)
	l.mark(at+16, 16*count, element)
	for i := range count {
		e := at + 16 + 16*i
		switch flags {
		case 1: // branch: position, length of key, page
			l.mark(e+l.u32(e), l.u32(e+4), keys)
			if err := l.page(int(l.u64(e+8)) * pageSize); err != nil {
				return err
			}
		case 2: // leaf: flags, position, lengths of key and value
			key, n, value, size := e+l.u32(e+4), l.u32(e+8), e+l.u32(e+4)+l.u32(e+8), l.u32(e+12)
			l.mark(key, n, keys)
			if l.u32(e) == 0 {
				l.mark(value, size, values)
				continue
			}
			l.mark(value, 8, bucketRoot)
			l.mark(value+8, 8, bucketCount)
			below := int(l.u64(value)) * pageSize
			if below == 0 {
				below = value + 16
			}
			if err := l.page(below); err != nil {
				return err
			}
		default:
			return fmt.Errorf("page at %d: flags %d", at, flags)
		}
	}
	return nil
}
