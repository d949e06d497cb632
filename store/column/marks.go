package column

import (
	"encoding/binary"
	"slices"
)

// The first byte of marks.
const (
	marksSame   = iota // the mark they all have follows
	marksRuns          // runs: a mark, and how many less one
	marksSeries        // a series of them, Small
)

// AppendMarks appends a column of small numbers to dst.
func AppendMarks(dst []byte, ms []uint8) []byte {
	mustFit(len(ms))
	if len(ms) == 0 {
		return append(dst, marksSame, 0)
	}
	runs := 1
	for i := 1; i < len(ms); i++ {
		if ms[i] != ms[i-1] {
			runs++
		}
	}
	if runs == 1 {
		return append(dst, marksSame, ms[0])
	}
	if runs > 8 {
		p := getNumbers(len(ms))
		defer putNumbers(p)
		for i, m := range ms {
			(*p)[i] = int64(m)
		}
		return appendSeries(append(dst, marksSeries), Small, *p)
	}
	dst = append(dst, marksRuns)
	for len(ms) > 0 {
		n := 1
		for n < len(ms) && ms[n] == ms[0] {
			n++
		}
		dst = binary.AppendUvarint(append(dst, ms[0]), uint64(n-1))
		ms = ms[n:]
	}
	return dst
}

// DecodeMarks appends the n marks of the column b to dst. Bytes that are no
// such column are ErrDamaged, and dst is returned as it was.
func DecodeMarks(dst []uint8, b []byte, n int) ([]uint8, error) {
	if err := checkLen(n); err != nil {
		return dst, err
	}
	had := len(dst)
	r := reader{b: b}
	switch r.byte() {
	case marksSame:
		m := r.byte()
		if r.bad || len(r.b) > 0 {
			return dst, damaged("mark of all")
		}
		dst = slices.Grow(dst, n)[:had+n]
		for i := range dst[had:] {
			dst[had+i] = m
		}
		return dst, nil
	case marksRuns:
		for left := n; left > 0; {
			m, more := r.byte(), r.uint()
			if r.bad || more >= uint64(left) {
				return dst[:had], damaged("runs of %d marks", n)
			}
			for range more + 1 {
				dst = append(dst, m)
			}
			left -= int(more) + 1
		}
		if len(r.b) > 0 {
			return dst[:had], damaged("runs of %d marks", n)
		}
		return dst, nil
	case marksSeries:
		p := getNumbers(n)
		defer putNumbers(p)
		if r.readSeries(*p); r.bad {
			return dst, damaged("series of %d marks", n)
		}
		for _, x := range *p {
			if uint64(x) > 0xff {
				return dst[:had], damaged("a mark of %d", x)
			}
			dst = append(dst, uint8(x))
		}
		return dst, nil
	}
	return dst, damaged("head of marks")
}
