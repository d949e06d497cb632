package column

import (
	"encoding/binary"
	"math"
)

// AppendTimes appends a column of strictly rising Unix milliseconds to dst.
func AppendTimes(dst []byte, m Mode, ts []int64) []byte {
	mustFit(len(ts))
	dst = append(dst, byte(m))
	for _, t := range ts {
		dst = binary.LittleEndian.AppendUint64(dst, uint64(t))
	}
	return dst
}

// DecodeTimes appends the n times of the column b to dst. Bytes that are no
// such column are ErrDamaged, and dst is returned as it was.
func DecodeTimes(dst []int64, b []byte, n int) ([]int64, error) {
	if err := checkLen(n); err != nil {
		return dst, err
	}
	if len(b) != 1+8*n {
		return dst, damaged("%d bytes for %d times", len(b), n)
	}
	had := len(dst)
	for i := range n {
		dst = append(dst, int64(binary.LittleEndian.Uint64(b[1+8*i:])))
		if i > 0 && dst[had+i] <= dst[had+i-1] {
			return dst[:had], damaged("time %d does not rise", i)
		}
	}
	return dst, nil
}

// AppendValues appends a column of any doubles to dst.
func AppendValues(dst []byte, m Mode, vs []float64) []byte {
	mustFit(len(vs))
	dst = append(dst, byte(m))
	for _, v := range vs {
		dst = binary.LittleEndian.AppendUint64(dst, math.Float64bits(v))
	}
	return dst
}

// DecodeValues appends the n values of the column b to dst. Bytes that are no
// such column are ErrDamaged, and dst is returned as it was.
func DecodeValues(dst []float64, b []byte, n int) ([]float64, error) {
	if err := checkLen(n); err != nil {
		return dst, err
	}
	if len(b) != 1+8*n {
		return dst, damaged("%d bytes for %d values", len(b), n)
	}
	for i := range n {
		dst = append(dst, math.Float64frombits(binary.LittleEndian.Uint64(b[1+8*i:])))
	}
	return dst, nil
}

// AppendMarks appends a column of small numbers to dst.
func AppendMarks(dst []byte, ms []uint8) []byte {
	mustFit(len(ms))
	return append(append(dst, 0), ms...)
}

// DecodeMarks appends the n marks of the column b to dst. Bytes that are no
// such column are ErrDamaged, and dst is returned as it was.
func DecodeMarks(dst []uint8, b []byte, n int) ([]uint8, error) {
	if err := checkLen(n); err != nil {
		return dst, err
	}
	if len(b) != 1+n {
		return dst, damaged("%d bytes for %d marks", len(b), n)
	}
	return append(dst, b[1:]...), nil
}

// Row is what a rollup keeps of the readings from At to one step later: how
// many were good, how many were not, and of the good ones the least, the
// greatest and the sum.
type Row struct {
	At            int64 // Unix ms, a multiple of the step
	Good, Others  uint32
	Min, Max, Sum float64
}

const rowLen = 40

// AppendRows appends a column of rows whose At rise strictly and are multiples
// of step, to dst.
func AppendRows(dst []byte, step int64, rows []Row) []byte {
	mustFit(len(rows))
	dst = append(dst, 0)
	for _, r := range rows {
		dst = binary.LittleEndian.AppendUint64(dst, uint64(r.At))
		dst = binary.LittleEndian.AppendUint32(dst, r.Good)
		dst = binary.LittleEndian.AppendUint32(dst, r.Others)
		for _, v := range []float64{r.Min, r.Max, r.Sum} {
			dst = binary.LittleEndian.AppendUint64(dst, math.Float64bits(v))
		}
	}
	return dst
}

// DecodeRows appends the n rows of the column b to dst. Bytes that are no such
// column are ErrDamaged, and dst is returned as it was.
func DecodeRows(dst []Row, b []byte, n int) ([]Row, error) {
	if err := checkLen(n); err != nil {
		return dst, err
	}
	if len(b) != 1+rowLen*n {
		return dst, damaged("%d bytes for %d rows", len(b), n)
	}
	b = b[1:]
	float := func(at int) float64 { return math.Float64frombits(binary.LittleEndian.Uint64(b[at:])) }
	for range n {
		dst = append(dst, Row{
			At: int64(binary.LittleEndian.Uint64(b)), Good: binary.LittleEndian.Uint32(b[8:]), Others: binary.LittleEndian.Uint32(b[12:]),
			Min: float(16), Max: float(24), Sum: float(32),
		})
		b = b[rowLen:]
	}
	return dst, nil
}
