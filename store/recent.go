package store

import (
	"sync"
	"unsafe"

	"lentic/collector/aquarium"
	"lentic/store/column"
	"lentic/store/record"
)

const (
	// recentBytes bounds what is kept decoded. Of a tank of twelve sensors, a
	// reading each ten seconds, a day is 2 MiB, or half of that where sensors
	// share their times, and the year's rows of an hour are 5.
	recentBytes = 8 << 20
	// recentSpan is how long a window is at most for its columns to be kept.
	// What reads weeks, as an export does, reads them once, and would drive
	// out what is looked at again and again.
	recentSpan = 2 * stretch
	// recentRows is how many rows sums are made of at most for these to be
	// kept: those of a year by the hour.
	recentRows = 366*24 + 1440
)

// recent keeps columns and rows that were read last as they were decoded. They
// are never changed, so that whoever has got one may read it for as long as he
// likes.
type recent struct {
	mu     sync.Mutex // guards what follows; no other is taken while it is held
	values map[recentKey]*recentValue
	size   int    // bytes
	clock  int    // counts reads, to tell which value was used last
	writes uint64 // counts values that were written or deleted
}

// recentKey is a value of blocks, of level 0, or of rows.
type recentKey struct {
	level byte
	group uint32
	start aquarium.Instant
}

// recentValue is what was decoded of one.
type recentValue struct {
	columns map[uint32][]record.Column // by series
	rows    map[uint32][]record.Rollup // by series
	times   map[record.Print][]int64
	size    int
	used    int
}

// columns are those of a series in a block, false where they are not kept.
func (r *recent) columns(k recentKey, series uint32) (cols []record.Column, ok bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if v := r.use(k); v != nil {
		cols, ok = v.columns[series]
	}
	return cols, ok
}

// rows are those of a series in a value of rows, false where they are not kept.
func (r *recent) rows(k recentKey, series uint32) (rows []record.Rollup, ok bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if v := r.use(k); v != nil {
		rows, ok = v.rows[series]
	}
	return rows, ok
}

func (r *recent) use(k recentKey) *recentValue {
	v := r.values[k]
	if v != nil {
		r.clock++
		v.used = r.clock
	}
	return v
}

// times are those of a block that have that print, nil where they are not kept.
func (r *recent) times(k recentKey, p record.Print) []int64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	if v := r.values[k]; v != nil {
		return v.times[p]
	}
	return nil
}

// now is to be asked for before a value is read of which something is then put:
// between the two it may be written anew.
func (r *recent) now() uint64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.writes
}

// putColumns keeps what was read of a block since now.
func (r *recent) putColumns(now uint64, k recentKey, series uint32, cols []record.Column, prints []record.Print) {
	r.mu.Lock()
	defer r.mu.Unlock()
	v := r.value(now, k)
	if v == nil || v.columns[series] != nil {
		return // it may have changed, or another was faster
	}
	size := 0
	for i, c := range cols {
		size += int(unsafe.Sizeof(c)) + 8*len(c.Values) + len(c.Retimed)
		if v.times[prints[i]] == nil {
			v.times[prints[i]] = c.Times
			size += 8 * len(c.Times)
		}
	}
	v.columns[series] = cols
	r.grow(v, size)
}

// putRows keeps what was read of a value of rows since now.
func (r *recent) putRows(now uint64, k recentKey, series uint32, rows []record.Rollup) {
	r.mu.Lock()
	defer r.mu.Unlock()
	v := r.value(now, k)
	if v == nil || v.rows[series] != nil {
		return
	}
	size := 0
	for _, c := range rows {
		size += int(unsafe.Sizeof(c)) + int(unsafe.Sizeof(column.Row{}))*cap(c.Rows)
	}
	v.rows[series] = rows
	r.grow(v, size)
}

// value is what is kept of a value, made where there is nothing; nil where any
// was written since now.
func (r *recent) value(now uint64, k recentKey) *recentValue {
	if now != r.writes {
		return nil
	}
	if v := r.use(k); v != nil {
		return v
	}
	if r.values == nil {
		r.values = map[recentKey]*recentValue{}
	}
	v := &recentValue{columns: map[uint32][]record.Column{}, rows: map[uint32][]record.Rollup{}, times: map[record.Print][]int64{}}
	r.values[k] = v
	return r.use(k)
}

// grow makes room for what was put into a value.
func (r *recent) grow(v *recentValue, size int) {
	v.size += size
	r.size += size
	for r.size > recentBytes && len(r.values) > 1 {
		r.drop(r.oldest())
	}
}

func (r *recent) oldest() recentKey {
	var found recentKey
	used := r.clock + 1
	for k, v := range r.values {
		if v.used < used {
			found, used = k, v.used
		}
	}
	return found
}

func (r *recent) drop(k recentKey) {
	if v := r.values[k]; v != nil {
		r.size -= v.size
		delete(r.values, k)
	}
}

// written forgets a value, by its level and key, that has become another or has
// gone.
func (r *recent) written(level byte, key []byte) {
	start, group, err := record.SplitBlockKey(key)
	r.mu.Lock()
	defer r.mu.Unlock()
	r.writes++
	if err == nil {
		r.drop(recentKey{level, group, start})
	}
}
