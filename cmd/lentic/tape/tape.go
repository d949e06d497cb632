// Package tape brings recorded samples, which a file may hold in any order, into
// the order in which they are judged. They may be more than the memory holds:
// what does not fit is sorted piece by piece and merged from a file.
package tape

import (
	"bufio"
	"encoding/binary"
	"errors"
	"io"
	"iter"
	"math"
	"os"
	"slices"

	"lentic/collector/aquarium"
)

// chunk is how many samples a Tape holds in memory, 24 bytes each; the rest
// lies in a file.
const chunk = 1 << 20

// Tape is recorded samples. It is filled by Add, read once by Sorted and then
// closed, by one goroutine.
type Tape struct {
	chunk  int
	keys   []aquarium.SensorKey
	number map[aquarium.SensorKey]uint32
	last   uint32  // the number of the last added
	order  []place // of the keys
	held   []taped
	begins []int    // where each run of what is held begins, but for the first
	file   *os.File // nil: all is held
	out    *bufio.Writer
	ends   []int64 // where each run in the file ends
	tail   taped   // the last of the last run
	err    error   // of reading the file back
}

// taped is a sample with its sensor as a number.
type taped struct {
	at      aquarium.Instant
	value   float64
	key     uint32
	quality aquarium.Quality
}

// mostRuns is how many runs of what is held are merged as they came: rows by sensor
// are a run each. More are sorted.
const mostRuns = 16

// place is where a key comes among the others: by its site, and by itself.
type place struct{ site, rank int32 }

// tapedBytes is what one takes in the file.
const tapedBytes = 8 + 8 + 4 + 1

// New is an empty tape.
func New() *Tape {
	return &Tape{chunk: chunk, number: map[aquarium.SensorKey]uint32{}}
}

// Err tells after Sorted whether the file could be read back.
func (t *Tape) Err() error { return t.err }

// Close removes the file, if one was needed.
func (t *Tape) Close() error {
	if t.file == nil {
		return nil
	}
	err := os.Remove(t.file.Name())
	if errors.Is(err, os.ErrNotExist) { // where a name can go before its file
		err = nil
	}
	return errors.Join(t.file.Close(), err)
}

// Add takes one more sample; the error is that of the file.
func (t *Tape) Add(s aquarium.Sample) error {
	n := t.last
	if int(n) >= len(t.keys) || t.keys[n] != s.Sensor {
		n = t.meet(s.Sensor)
		t.last = n
	}
	t.held = append(t.held, taped{s.At, s.Value, n, s.Quality})
	if i := len(t.held) - 1; i > 0 && t.before(&t.held[i], &t.held[i-1]) && len(t.begins) < mostRuns {
		t.begins = append(t.begins, i)
	}
	if len(t.held) < t.chunk {
		return nil
	}
	return t.spill()
}

// meet is the number of a sensor.
func (t *Tape) meet(k aquarium.SensorKey) uint32 {
	n, known := t.number[k]
	if known {
		return n
	}
	n = uint32(len(t.keys))
	t.keys = append(t.keys, k)
	t.number[k] = n
	// The places of the others move, but not among each other.
	sorted := slices.SortedFunc(slices.Values(t.keys), func(a, b aquarium.SensorKey) int {
		if a.Less(b) {
			return -1
		}
		return 1
	})
	t.order = make([]place, len(t.keys))
	site := int32(0)
	for i, k := range sorted {
		if i > 0 && k.Site != sorted[i-1].Site {
			site++
		}
		t.order[t.number[k]] = place{site, int32(i)}
	}
	return n
}

// before is the order of site, time and sensor.
func (t *Tape) before(a, b *taped) bool {
	x, y := t.order[a.key], t.order[b.key]
	if x.site != y.site {
		return x.site < y.site
	}
	return a.at < b.at || a.at == b.at && x.rank < y.rank
}

// runs are those of what is held, which is sorted where they are too many.
func (t *Tape) runs() (rs [][]taped) {
	if len(t.begins) == mostRuns {
		slices.SortStableFunc(t.held, func(a, b taped) int {
			switch {
			case t.before(&a, &b):
				return -1
			case t.before(&b, &a):
				return 1
			}
			return 0
		})
		t.begins = t.begins[:0]
	}
	from := 0
	for _, i := range t.begins {
		rs, from = append(rs, t.held[from:i]), i
	}
	return append(rs, t.held[from:])
}

// spill writes what is held as more runs.
func (t *Tape) spill() error {
	if t.file == nil {
		f, err := os.CreateTemp("", "lentic-backtest-")
		if err != nil {
			return err
		}
		_ = os.Remove(f.Name()) // so that it is gone however the process ends; else Close does it
		t.file, t.out = f, bufio.NewWriterSize(f, 1<<18)
	}
	for _, run := range t.runs() {
		if err := t.write(run); err != nil {
			return err
		}
	}
	t.held, t.begins = t.held[:0], t.begins[:0]
	return t.out.Flush()
}

// write appends a run to the file.
func (t *Tape) write(run []taped) error {
	goesOn := len(t.ends) > 0 && !t.before(&run[0], &t.tail)
	t.tail = run[len(run)-1]
	var b [tapedBytes]byte
	for _, e := range run {
		binary.LittleEndian.PutUint64(b[0:], uint64(e.at))
		binary.LittleEndian.PutUint64(b[8:], math.Float64bits(e.value))
		binary.LittleEndian.PutUint32(b[16:], e.key)
		b[20] = byte(e.quality)
		if _, err := t.out.Write(b[:]); err != nil {
			return err
		}
	}
	end := int64(len(run)) * tapedBytes
	if n := len(t.ends); n > 0 {
		end += t.ends[n-1]
	}
	if goesOn { // it is the same run
		t.ends = t.ends[:len(t.ends)-1]
	}
	t.ends = append(t.ends, end)
	return nil
}

// Sorted gives all that was added by site, then time, then sensor. Of two for
// the same sensor and time the first added stands.
func (t *Tape) Sorted() iter.Seq[aquarium.Sample] {
	return func(yield func(aquarium.Sample) bool) {
		m := &merge{t: t}
		from := int64(0)
		for _, end := range t.ends {
			m.push(&stretch{no: len(m.runs), in: bufio.NewReaderSize(io.NewSectionReader(t.file, from, end-from), max(leastBuffer, min(1<<16, buffers/len(t.ends))))})
			from = end
		}
		for _, run := range t.runs() {
			m.push(&stretch{no: len(m.runs), held: run})
		}
		for i := len(m.runs)/2 - 1; i >= 0; i-- {
			m.down(i)
		}
		last, any := taped{}, false
		for len(m.runs) > 0 && t.err == nil {
			e := m.runs[0].head
			m.step()
			if any && last.at == e.at && last.key == e.key {
				continue
			}
			last, any = e, true
			if !yield(aquarium.Sample{Sensor: t.keys[e.key], At: e.at, Value: e.value, Quality: e.quality}) {
				return
			}
		}
	}
}

// All runs of the file are read through buffers of so many bytes in all, and each
// through one of leastBuffer at the least.
const (
	buffers     = 8 << 20
	leastBuffer = 4 << 10
)

// stretch is one sorted run of samples, in the file or in memory.
type stretch struct {
	no    int // the order in which they were given
	in    *bufio.Reader
	held  []taped
	head  taped
	place place // of the head
}

// next moves on; false at the end.
func (r *stretch) next(order []place) (bool, error) {
	if r.in == nil {
		if len(r.held) == 0 {
			return false, nil
		}
		r.head, r.held = r.held[0], r.held[1:]
		r.place = order[r.head.key]
		return true, nil
	}
	b, err := r.in.Peek(tapedBytes)
	switch {
	case err == io.EOF && len(b) == 0:
		return false, nil
	case err == io.EOF:
		return false, io.ErrUnexpectedEOF
	case err != nil:
		return false, err
	}
	r.head = taped{
		aquarium.Instant(binary.LittleEndian.Uint64(b[0:])), math.Float64frombits(binary.LittleEndian.Uint64(b[8:])),
		binary.LittleEndian.Uint32(b[16:]), aquarium.Quality(b[20]),
	}
	r.place = order[r.head.key]
	_, err = r.in.Discard(tapedBytes)
	return true, err
}

// before is the order of the heads; of equal ones the earlier run comes first.
func (r *stretch) before(o *stretch) bool {
	switch {
	case r.place.site != o.place.site:
		return r.place.site < o.place.site
	case r.head.at != o.head.at:
		return r.head.at < o.head.at
	case r.place.rank != o.place.rank:
		return r.place.rank < o.place.rank
	}
	return r.no < o.no
}

// merge is a heap of runs by their heads, the first one on top.
type merge struct {
	t    *Tape
	runs []*stretch
}

// push adds a run that is not at its end; where it belongs is for down to say.
func (m *merge) push(r *stretch) {
	ok, err := r.next(m.t.order)
	if ok {
		m.runs = append(m.runs, r)
	}
	m.t.err = errors.Join(m.t.err, err)
}

// step moves the first run on.
func (m *merge) step() {
	ok, err := m.runs[0].next(m.t.order)
	if err != nil {
		m.t.err = errors.Join(m.t.err, err)
	}
	if !ok {
		n := len(m.runs) - 1
		m.runs[0] = m.runs[n]
		m.runs = m.runs[:n]
	}
	m.down(0)
}

// down lets the run at i sink to its place.
func (m *merge) down(i int) {
	for {
		c := 2*i + 1
		if c >= len(m.runs) {
			return
		}
		if c+1 < len(m.runs) && m.runs[c+1].before(m.runs[c]) {
			c++
		}
		if !m.runs[c].before(m.runs[i]) {
			return
		}
		m.runs[i], m.runs[c] = m.runs[c], m.runs[i]
		i = c
	}
}
