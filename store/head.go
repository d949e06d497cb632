package store

import (
	"cmp"
	"encoding/binary"
	"slices"
	"sync"

	"lentic/collector/aquarium"
	"lentic/store/column"
	"lentic/store/record"
)

// head holds the readings of one series and stretch that are in the log and in
// no block yet: full chunks packed, the one that grows as it is.
type head struct {
	chunks []chunk // in order of time, none empty
}

const chunkMax = 128

type chunk struct {
	first, last aquarium.Instant
	base        aquarium.Instant // that entries count from: its first reading, when it was begun
	n           int
	units       []aquarium.Unit
	raw         []entry // nil: packed
	plain       bool    // packed, all in one unit and none retimed
	packed      []byte  // length of times and values, each a varint; times, values, and unless plain units, retimed
}

// entry is as short as it can be while it grows: there is one of these chunks for
// every sensor.
type entry struct {
	value float64
	after int32  // the chunk's base, in ms: a head is of one stretch
	mark  uint16 // which of the chunk's units, times two; 1 more: retimed
}

func (c *chunk) entry(r *record.Point) entry {
	return entry{r.Value, int32(r.At - c.base), c.mark(r)}
}

func (c *chunk) at(e entry) aquarium.Instant { return c.base + aquarium.Instant(e.after) }

// search finds where an entry of that time is, or would be.
func (c *chunk) search(es []entry, at aquarium.Instant) (int, bool) {
	return slices.BinarySearchFunc(es, int32(at-c.base), func(e entry, after int32) int { return cmp.Compare(e.after, after) })
}

func (h *head) len() int {
	n := 0
	for i := range h.chunks {
		n += h.chunks[i].n
	}
	return n
}

// find is the index of the chunk that a reading of that time lies in, or would.
func (h *head) find(at aquarium.Instant) int {
	i, _ := slices.BinarySearchFunc(h.chunks, at, func(c chunk, at aquarium.Instant) int {
		if c.first <= at {
			return -1
		}
		return 1
	})
	return max(0, i-1)
}

// get is the reading of that time.
func (h *head) get(at aquarium.Instant) (aquarium.Reading, bool) {
	if n := len(h.chunks); n == 0 || at > h.chunks[n-1].last {
		return aquarium.Reading{}, false
	}
	c := &h.chunks[h.find(at)]
	if at < c.first || at > c.last {
		return aquarium.Reading{}, false
	}
	es := c.entries()
	i, found := c.search(es, at)
	if !found {
		return aquarium.Reading{}, false
	}
	return c.reading(es[i]), true
}

// last is the latest reading; the head has one.
func (h *head) last() aquarium.Reading {
	r, _ := h.get(h.chunks[len(h.chunks)-1].last)
	return r
}

// put adds a reading, or replaces that of the same time.
func (h *head) put(r *record.Point) {
	end := len(h.chunks) - 1
	if end < 0 || r.At > h.chunks[end].last {
		h.follow(r)
		return
	}
	i := h.find(r.At)
	c := &h.chunks[i]
	packed := c.raw == nil
	c.insert(r)
	switch {
	case c.n > chunkMax:
		h.split(i)
	case packed:
		c.pack()
	}
}

// follow adds a reading that is later than all others.
func (h *head) follow(r *record.Point) {
	end := len(h.chunks) - 1
	var raw []entry
	if end >= 0 && h.chunks[end].n >= chunkMax {
		raw = h.chunks[end].pack() // the next chunk may have its room
	}
	if end < 0 || h.chunks[end].n >= chunkMax {
		h.chunks = append(h.chunks, chunk{first: r.At, base: r.At, raw: raw})
		end++
	}
	c := &h.chunks[end]
	if c.packed != nil {
		c.raw, c.packed = c.entries(), nil
	}
	c.raw = append(c.raw, c.entry(r))
	c.n, c.last = c.n+1, r.At
}

// split makes two chunks of one that has become too long.
func (h *head) split(i int) {
	c := h.chunks[i]
	var halves [2]chunk
	for n, e := range c.raw {
		half := &halves[n*2/len(c.raw)]
		r := c.reading(e)
		p := record.PointOf(&r)
		half.insert(&p)
	}
	halves[0].pack()
	if i < len(h.chunks)-1 {
		halves[1].pack()
	}
	h.chunks = slices.Replace(h.chunks, i, i+1, halves[0], halves[1])
}

// around is a copy of what the head has from <= At < to, and some around it. It
// is made quickly, and may be read while the head goes on growing.
func (h *head) around(from, to aquarium.Instant) *head {
	i := h.find(from)
	j := i
	for j < len(h.chunks) && h.chunks[j].first < to {
		j++
	}
	some := slices.Clone(h.chunks[i:j])
	for n := range some {
		some[n].raw = slices.Clone(some[n].raw)
	}
	return &head{chunks: some}
}

// columns are all readings, by unit.
func (h *head) columns(series uint32) []record.Column {
	b := columnBuilder{series: series, room: h.len()}
	for i := range h.chunks {
		c := &h.chunks[i]
		if c.packed != nil && c.plain {
			c.appendTo(b.column(c.units[0]))
			continue
		}
		for _, e := range c.entries() {
			r := c.reading(e)
			b.add(r)
		}
	}
	return b.columns
}

// appendTo adds a packed chunk of one unit, none of it retimed, to a column.
func (c *chunk) appendTo(col *record.Column) {
	times, values, _ := c.parts()
	var err1, err2 error
	col.Times, err1 = column.DecodeTimes(col.Times, times, c.n)
	col.Values, err2 = column.DecodeValues(col.Values, values, c.n)
	if err1 != nil || err2 != nil {
		panic(errUnpack)
	}
	if col.Retimed != nil {
		col.Retimed = append(col.Retimed, make([]uint8, c.n)...)
	}
}

// parts are a packed chunk's times, values, and what is behind them.
func (c *chunk) parts() (times, values, rest []byte) {
	b := c.packed
	nt, used := binary.Uvarint(b)
	b = b[used:]
	nv, used := binary.Uvarint(b)
	b = b[used:]
	return b[:nt], b[nt : nt+nv], b[nt+nv:]
}

// errUnpack: what this process packed does not unpack.
const errUnpack = "store: a chunk in memory does not unpack"

func (c *chunk) reading(e entry) aquarium.Reading {
	return aquarium.Reading{At: c.at(e), Value: e.value, Unit: c.units[e.mark>>1], Retimed: e.mark&1 == 1}
}

// insert puts a reading in its place and leaves the chunk unpacked.
func (c *chunk) insert(r *record.Point) {
	c.raw, c.packed = c.entries(), nil
	if len(c.raw) == 0 {
		c.base = r.At
	}
	e := c.entry(r)
	at, found := c.search(c.raw, r.At)
	if found {
		c.raw[at] = e
	} else {
		c.raw = slices.Insert(c.raw, at, e)
	}
	c.n, c.first, c.last = len(c.raw), c.at(c.raw[0]), c.at(c.raw[len(c.raw)-1])
}

// mark is what an entry says of a reading's unit.
func (c *chunk) mark(r *record.Point) uint16 {
	i := 0
	for i < len(c.units) && c.units[i] != r.Unit {
		i++
	}
	if i == len(c.units) {
		c.units = append(c.units, r.Unit)
	}
	if r.Retimed {
		return uint16(i)<<1 | 1
	}
	return uint16(i) << 1
}

// tidyUnits forgets the units of readings that were replaced.
func (c *chunk) tidyUnits() {
	old := c.units
	c.units = nil
	for i, e := range c.raw {
		u := old[e.mark>>1]
		n := slices.Index(c.units, u)
		if n < 0 {
			n = len(c.units)
			c.units = append(c.units, u)
		}
		c.raw[i].mark = uint16(n)<<1 | e.mark&1
	}
}

// entries are the chunk's readings; when it is packed, a copy.
func (c *chunk) entries() []entry {
	if c.raw != nil || c.packed == nil {
		return c.raw
	}
	packedTimes, packedValues, b := c.parts()
	var ts [chunkMax]int64
	var vs [chunkMax]float64
	var us, ms [chunkMax]uint8
	times, err1 := column.DecodeTimes(ts[:0], packedTimes, c.n)
	values, err2 := column.DecodeValues(vs[:0], packedValues, c.n)
	units, marks := us[:c.n], ms[:c.n]
	var err3, err4 error
	if !c.plain {
		nu, used := binary.Uvarint(b)
		b = b[used:]
		units, err3 = column.DecodeMarks(us[:0], b[:nu], c.n)
		marks, err4 = column.DecodeMarks(ms[:0], b[nu:], c.n)
	}
	if err1 != nil || err2 != nil || err3 != nil || err4 != nil {
		panic(errUnpack)
	}
	es := make([]entry, c.n, c.n+1)
	for i := range es {
		es[i] = entry{values[i], int32(times[i] - int64(c.base)), uint16(units[i])<<1 | uint16(marks[i])}
	}
	return es
}

// packing is room for that.
type packing struct {
	times        [chunkMax]int64
	values       [chunkMax]float64
	units, marks [chunkMax]uint8
	room         []byte
}

var packings = sync.Pool{New: func() any { return new(packing) }}

// pack packs the chunk, and gives the room that it took, emptied.
func (c *chunk) pack() []entry {
	if c.packed != nil {
		return nil
	}
	free := c.raw[:0]
	p := packings.Get().(*packing)
	defer packings.Put(p)
	if len(c.units) > chunkMax {
		c.tidyUnits() // then there are no more of them than readings
	}
	c.plain = len(c.units) == 1
	for i, e := range c.raw {
		c.plain = c.plain && e.mark&1 == 0
		p.times[i], p.values[i], p.units[i], p.marks[i] = int64(c.at(e)), e.value, uint8(e.mark>>1), uint8(e.mark&1)
	}
	p.room = column.AppendTimes(p.room[:0], column.Fast, p.times[:c.n])
	nt := len(p.room)
	p.room = column.AppendValues(p.room, column.Fast, p.values[:c.n])
	times, values := p.room[:nt], p.room[nt:]
	b := make([]byte, 0, len(times)+len(values)+4)
	b = binary.AppendUvarint(b, uint64(len(times)))
	b = binary.AppendUvarint(b, uint64(len(values)))
	b = append(append(b, times...), values...)
	if !c.plain {
		units := column.AppendMarks(nil, p.units[:c.n])
		b = append(binary.AppendUvarint(b, uint64(len(units))), units...)
		b = column.AppendMarks(b, p.marks[:c.n])
	}
	c.packed, c.raw = slices.Clip(b), nil
	return free
}
