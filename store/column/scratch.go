package column

import "sync"

// What packing and reading need besides their result is used again, so that a
// column costs its caller no garbage. Nothing in it outlives a call.
var (
	scratches = sync.Pool{New: func() any { return new(scratch) }}
	decoders  = sync.Pool{New: func() any { return new(decoder) }}
	numbers   = sync.Pool{New: func() any { return new([]int64) }}
)

// keptLen is how long a buffer is kept at most.
const keptLen = 1 << 16

type scratch struct {
	steps, res []int64
	where      []uint8 // each residual's context, then its table
	codes      []code
	hists      [contextTables]hist
	tables     [maxTables]table
	trial      trial
}

func getScratch(n int) *scratch {
	s := scratches.Get().(*scratch)
	if cap(s.res) < n {
		s.steps, s.res, s.where, s.codes = make([]int64, n), make([]int64, n), make([]uint8, n), make([]code, n)
	}
	s.steps, s.res, s.where, s.codes = s.steps[:n], s.res[:n], s.where[:n], s.codes[:n]
	return s
}

func (s *scratch) put() {
	if cap(s.res) <= keptLen {
		scratches.Put(s)
	}
}

// release forgets the column that was read.
func (d *decoder) release() {
	d.bits.b = nil
	decoders.Put(d)
}

func getNumbers(n int) *[]int64 {
	p := numbers.Get().(*[]int64)
	if cap(*p) < n {
		*p = make([]int64, n)
	}
	*p = (*p)[:n]
	return p
}

func putNumbers(p *[]int64) {
	if cap(*p) <= keptLen {
		numbers.Put(p)
	}
}
