package record

import (
	"encoding/binary"
	"fmt"
	"hash/maphash"
	"slices"

	"lentic/collector/aquarium"
	"lentic/store/column"
)

const blockKind = 2

// Column is the readings of one series in one unit within a block, rising in
// time. Retimed is nil where none of them was.
type Column struct {
	Series  uint32
	Unit    aquarium.Unit
	Times   []int64 // Unix ms
	Values  []float64
	Retimed []uint8 // 1: retimed
}

// EncodeBlock writes columns as one value under key. Columns whose times are
// the same, as those of one message are, share them. Through is the sequence
// of the last log record whose readings are among these.
func EncodeBlock(key []byte, through uint64, cols []Column) []byte {
	times, of := shareTimes(cols)
	head := binary.AppendUvarint([]byte{blockKind}, through)
	head = binary.AppendUvarint(head, uint64(len(times)))
	head = binary.AppendUvarint(head, uint64(len(cols)))
	var body []byte
	section := func(b []byte) {
		head = binary.AppendUvarint(head, uint64(len(b)))
		body = append(body, b...)
		body = binary.LittleEndian.AppendUint32(body, checksum(key, b))
	}
	for _, ts := range times {
		head = binary.AppendUvarint(head, uint64(len(ts)))
		section(column.AppendTimes(nil, column.Small, ts))
	}
	for i, c := range cols {
		head = binary.AppendUvarint(head, uint64(c.Series))
		head = appendString(head, string(c.Unit))
		head = binary.AppendUvarint(head, uint64(of[i]))
		section(column.AppendValues(nil, column.Small, c.Values))
		if c.Retimed == nil {
			head = binary.AppendUvarint(head, 0)
			continue
		}
		section(column.AppendMarks(nil, c.Retimed))
	}
	head = binary.LittleEndian.AppendUint32(head, checksum(key, head))
	return append(head, body...)
}

// shareTimes gives the different times, and which of them each column has.
func shareTimes(cols []Column) (times [][]int64, of []int) {
	seed := maphash.MakeSeed()
	by := map[uint64][]int{}
	for _, c := range cols {
		h := maphash.Comparable(seed, sketch(c.Times))
		found := -1
		for _, i := range by[h] {
			if slices.Equal(times[i], c.Times) {
				found = i
			}
		}
		if found < 0 {
			found = len(times)
			times = append(times, c.Times)
			by[h] = append(by[h], found)
		}
		of = append(of, found)
	}
	return times, of
}

// sketch tells most different times apart without reading them all.
func sketch(ts []int64) [4]int64 {
	n := len(ts)
	return [4]int64{int64(n), ts[0], ts[n/2], ts[n-1]}
}

// Block is an encoded block, opened. It reads the bytes it was opened on, so
// it lives no longer than they do.
type Block struct {
	Through uint64
	Columns []Placed
	key     []byte
	times   []section
	body    []byte
}

// Placed is where a column lies within a block.
type Placed struct {
	Series         uint32
	Unit           aquarium.Unit
	N              int
	time           int
	values, marked section
}

type section struct{ n, at, len int }

// OpenBlock reads the head of a block. Its columns are read one by one with
// Column, each with a checksum of its own, so that what is damaged costs only
// itself.
func OpenBlock(key, value []byte) (*Block, error) {
	r := reader{b: value}
	if kind := r.byte(); r.err == nil && kind != blockKind {
		return nil, fmt.Errorf("%w: block of kind %d, want %d", ErrCorrupt, kind, blockKind)
	}
	b := &Block{Through: r.uvarint(), key: key}
	at := 0
	next := func(n int) section {
		s := section{n: n, at: at, len: r.length(value)}
		at += s.len + sealed
		return s
	}
	nt, nc := r.length(value), r.length(value)
	if r.err == nil {
		b.times, b.Columns = make([]section, 0, min(nt, usual)), make([]Placed, 0, min(nc, usual))
	}
	for range nt {
		if r.err != nil {
			break
		}
		n := r.uvarint()
		b.times = append(b.times, next(int(min(n, maxColumn))))
	}
	for range nc {
		if r.err != nil {
			break
		}
		p := Placed{Series: uint32(r.uvarint()), Unit: aquarium.Unit(r.string()), time: r.length(value)}
		if r.err == nil && p.time >= len(b.times) {
			return nil, fmt.Errorf("%w: column without times", ErrCorrupt)
		}
		if r.err != nil {
			break
		}
		p.N = b.times[p.time].n
		p.values = next(p.N)
		if size := r.uvarint(); size > 0 {
			p.marked = section{n: p.N, at: at, len: int(min(size, uint64(len(value))))}
			at += p.marked.len + sealed
		}
		b.Columns = append(b.Columns, p)
	}
	head := len(value) - len(r.b)
	sum := r.take(sealed)
	switch {
	case r.err != nil:
		return nil, r.err
	case binary.LittleEndian.Uint32(sum) != checksum(key, value[:head]):
		return nil, errChecksum
	case at != len(r.b):
		return nil, fmt.Errorf("%w: %d bytes of columns, want %d", ErrCorrupt, len(r.b), at)
	}
	b.body = r.b
	return b, nil
}

// usual is how many sections and columns room is made for at once: a tank has
// hardly more.
const usual = 32

// maxColumn bounds what a damaged head can make a reader allocate before the
// checksum tells.
const maxColumn = 1 << 28

// length is a number that cannot be more than the whole value is long.
func (r *reader) length(value []byte) int {
	n := r.uvarint()
	if r.err == nil && n > uint64(len(value)) {
		r.err = fmt.Errorf("%w: length %d in a value of %d bytes", ErrCorrupt, n, len(value))
	}
	return int(n)
}

func (b *Block) section(s section) ([]byte, error) {
	data := b.body[s.at : s.at+s.len]
	if binary.LittleEndian.Uint32(b.body[s.at+s.len:]) != checksum(b.key, data) {
		return nil, errChecksum
	}
	return data, nil
}

// Sealed gives the bytes of a column's values as they are, for a column that
// cannot be read and is put aside.
func (b *Block) Sealed(p Placed) []byte { return b.body[p.values.at : p.values.at+p.values.len] }

// Column decodes a column into the room of another, which may be the zero
// Column. Its slices are the caller's.
func (b *Block) Column(p Placed, room Column) (Column, error) {
	times, err := b.Times(p, room.Times[:0])
	if err != nil {
		return Column{Series: p.Series, Unit: p.Unit}, err
	}
	return b.With(times, p, room)
}

// Times decodes the times of a column, appending them to room.
func (b *Block) Times(p Placed, room []int64) ([]int64, error) {
	data, err := b.section(b.times[p.time])
	if err != nil {
		return nil, fmt.Errorf("times: %w", err)
	}
	if room, err = column.DecodeTimes(room, data, p.N); err != nil {
		return nil, fmt.Errorf("%w: times: %w", ErrCorrupt, err)
	}
	return room, nil
}

// Print tells times apart without decoding them: those of two columns of blocks
// of one key that have the same one are the same.
type Print struct {
	place, n, len int
	sum           uint32
}

// Print is that of a column's times.
func (b *Block) Print(p Placed) Print {
	s := b.times[p.time]
	return Print{p.time, s.n, s.len, binary.LittleEndian.Uint32(b.body[s.at+s.len:])}
}

// Front decodes the readings of a column before a time, or the first where there
// is none; more than guess of them cost more than to decode them all.
func (b *Block) Front(p Placed, until aquarium.Instant, guess int, room Column) (c Column, err error) {
	c.Series, c.Unit = p.Series, p.Unit
	data, err := b.section(b.times[p.time])
	if err != nil {
		return c, fmt.Errorf("times: %w", err)
	}
	m := min(guess, p.N)
	c.Times, err = column.DecodeTimesFront(room.Times[:0], data, p.N, m)
	if err == nil && m < p.N && (m == 0 || c.Times[m-1] < int64(until)) {
		c.Times, err = column.DecodeTimes(c.Times[:0], data, p.N)
	}
	if err != nil {
		return c, fmt.Errorf("%w: times: %w", ErrCorrupt, err)
	}
	m, _ = slices.BinarySearch(c.Times, int64(until))
	c.Times = c.Times[:min(max(m, 1), len(c.Times))]
	return b.values(c, p, room)
}

// With decodes a column whose times are known, as Column does.
func (b *Block) With(times []int64, p Placed, room Column) (Column, error) {
	return b.values(Column{Series: p.Series, Unit: p.Unit, Times: times}, p, room)
}

// values adds to a column's times what they go with.
func (b *Block) values(c Column, p Placed, room Column) (Column, error) {
	data, err := b.section(p.values)
	if err != nil {
		return c, fmt.Errorf("values: %w", err)
	}
	if c.Values, err = column.DecodeValuesFront(room.Values[:0], data, p.N, len(c.Times)); err != nil {
		return c, fmt.Errorf("%w: values: %w", ErrCorrupt, err)
	}
	if p.marked.len == 0 {
		return c, nil
	}
	if data, err = b.section(p.marked); err != nil {
		return c, fmt.Errorf("marks: %w", err)
	}
	if c.Retimed, err = column.DecodeMarks(room.Retimed[:0], data, p.N); err != nil {
		return c, fmt.Errorf("%w: marks: %w", ErrCorrupt, err)
	}
	c.Retimed = c.Retimed[:len(c.Times)]
	return c, nil
}
