package store

import (
	"sync"
	"unsafe"

	"lentic/store/record"
)

const (
	// recentBytes bounds what is kept decoded: a day of a tank's twelve
	// sensors at a reading each ten seconds is 2 MiB, or half of that where
	// they share their times.
	recentBytes = 4 << 20
	// recentSpan is how long a window is at most for its columns to be kept.
	// What reads weeks, as an export does, reads them once, and would drive
	// out what is looked at again and again.
	recentSpan = 2 * stretch
)

// recent keeps columns that were read last as they were decoded. They are never
// changed, so that whoever has got one may read it for as long as he likes.
type recent struct {
	mu     sync.Mutex // guards what follows; no other is taken while it is held
	blocks map[openKey]*recentBlock
	size   int    // bytes
	clock  int    // counts reads, to tell which block was used last
	writes uint64 // counts blocks that were written or deleted
}

type recentBlock struct {
	columns map[uint32][]record.Column // by series
	times   map[record.Print][]int64
	size    int
	used    int
}

// columns are those of a series in a block, false where they are not kept.
func (r *recent) columns(k openKey, series uint32) ([]record.Column, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	b := r.blocks[k]
	if b == nil {
		return nil, false
	}
	r.clock++
	b.used = r.clock
	cols, ok := b.columns[series]
	return cols, ok
}

// times are those of a block that have that print, nil where they are not kept.
func (r *recent) times(k openKey, p record.Print) []int64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	if b := r.blocks[k]; b != nil {
		return b.times[p]
	}
	return nil
}

// now is to be asked for before the block is read that is then put: between the
// two it may be written anew.
func (r *recent) now() uint64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.writes
}

// put keeps what was read of a block since now.
func (r *recent) put(now uint64, k openKey, series uint32, cols []record.Column, prints []record.Print) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if now != r.writes {
		return
	}
	if r.blocks == nil {
		r.blocks = map[openKey]*recentBlock{}
	}
	b := r.blocks[k]
	if b == nil {
		b = &recentBlock{columns: map[uint32][]record.Column{}, times: map[record.Print][]int64{}}
		r.blocks[k] = b
	}
	if _, ok := b.columns[series]; ok {
		return // another was faster
	}
	size := 0
	for i, c := range cols {
		size += int(unsafe.Sizeof(c)) + 8*len(c.Values) + len(c.Retimed)
		if b.times[prints[i]] == nil {
			b.times[prints[i]] = c.Times
			size += 8 * len(c.Times)
		}
	}
	r.clock++
	b.columns[series], b.used = cols, r.clock
	b.size += size
	r.size += size
	for r.size > recentBytes && len(r.blocks) > 1 {
		r.drop(r.oldest())
	}
}

func (r *recent) oldest() openKey {
	var found openKey
	used := r.clock + 1
	for k, b := range r.blocks {
		if b.used < used {
			found, used = k, b.used
		}
	}
	return found
}

func (r *recent) drop(k openKey) {
	if b := r.blocks[k]; b != nil {
		r.size -= b.size
		delete(r.blocks, k)
	}
}

// written forgets a block that has become another, or has gone.
func (r *recent) written(key []byte) {
	start, group, err := record.SplitBlockKey(key)
	r.mu.Lock()
	defer r.mu.Unlock()
	r.writes++
	if err == nil {
		r.drop(openKey{group, start})
	}
}
