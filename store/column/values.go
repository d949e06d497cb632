package column

import (
	"encoding/binary"
	"math"
	"slices"
)

// AppendValues appends a column of any doubles to dst.
func AppendValues(dst []byte, m Mode, vs []float64) []byte {
	mustFit(len(vs))
	p := getNumbers(len(vs))
	defer putNumbers(p)
	var room [32]int
	s, odd := toWhole(*p, vs, room[:0])
	head := byte(s.form)<<valuesForm | s.exp
	if s.signed {
		head |= valuesSigned
	}
	if len(odd) > 0 {
		head |= valuesOdd
	}
	dst = append(dst, head)
	if s.form == ordered {
		if all := distinct(*p); all != nil {
			dst[len(dst)-1] |= valuesFew
			dst = appendDistinct(dst, all)
		}
	}
	if len(odd) > 0 {
		dst = binary.AppendUvarint(dst, uint64(len(odd)))
		last := 0
		for _, i := range odd {
			dst = binary.AppendUvarint(dst, uint64(i-last))
			dst = binary.LittleEndian.AppendUint64(dst, math.Float64bits(vs[i]))
			last = i
		}
	}
	return appendSeries(dst, m, *p)
}

// The first byte of values: the exponent, the form, whether some are odd (of
// the form ordered: whether its numbers are places among few different ones),
// and whether numbers below zero are one lower.
const (
	valuesExp    = 0x0f
	valuesForm   = 4 // where the form's two bits begin
	valuesOdd    = 1 << 6
	valuesFew    = valuesOdd
	valuesSigned = 1 << 7
)

// DecodeValues appends the n values of the column b to dst. Bytes that are no
// such column are ErrDamaged, and dst is returned as it was.
func DecodeValues(dst []float64, b []byte, n int) ([]float64, error) {
	return DecodeValuesFront(dst, b, n, n)
}

// DecodeValuesFront appends the first m of the n values of the column b, as
// DecodeValues does. Damage behind these may go unseen.
func DecodeValuesFront(dst []float64, b []byte, n, m int) ([]float64, error) {
	if err := checkFront(n, m); err != nil {
		return dst, err
	}
	r := reader{b: b, front: m < n}
	head := r.byte()
	s := scaled{form(head >> valuesForm & 3), head & valuesExp, head&valuesSigned != 0}
	var odd reader
	var few []int64
	count := uint64(0)
	switch {
	case head&valuesOdd == 0:
	case s.form == ordered:
		few = r.distinct(n)
	default:
		if count = r.uint(); count > uint64(n) {
			return dst, damaged("%d odd ones among %d values", count, n)
		}
		odd = r
		for range count {
			r.uint()
			r.uint64()
		}
	}
	if r.bad {
		return dst, damaged("head of values")
	}
	p := getNumbers(m)
	defer putNumbers(p)
	if r.readSeries(*p); r.bad || few != nil && !fromPlaces(*p, few) {
		return dst, damaged("series of %d values", n)
	}
	had := len(dst)
	dst = slices.Grow(dst, m)[:had+m]
	s.fromWhole(dst[had:], *p)
	at := uint64(0)
	for i := range count {
		far := odd.uint()
		if at += far; far > Max || at >= uint64(n) || i > 0 && far == 0 {
			return dst[:had], damaged("place of an odd value")
		}
		if at >= uint64(m) {
			break
		}
		dst[had+int(at)] = math.Float64frombits(odd.uint64())
	}
	return dst, nil
}
