package column

import "math/bits"

// A series is any whole numbers, the heart of every column:
//
//	base + unit * y  where the y's are all 0, packed in frames, or foretold by
//	a model whose misses are coded.
const (
	seriesSame = iota
	seriesPacked
	seriesForetold

	seriesKind     = 3
	seriesUnit     = 1 << 2 // a unit other than 1 follows
	seriesFollow   = 3      // where the model's follow begins
	seriesSteps    = 1 << 6
	seriesContexts = 1 << 7
)

// appendSeries writes xs, which it changes.
func appendSeries(dst []byte, m Mode, xs []int64) []byte {
	if len(xs) == 0 {
		return append(dst, seriesSame, 0)
	}
	base := xs[0]
	unit := measure(xs)
	if unit == 0 {
		return appendInt(append(dst, seriesSame), base)
	}
	at := len(dst)
	dst = appendInt(append(dst, seriesPacked), base)
	if unit > 1 {
		dst[at] |= seriesUnit
		dst = appendInt(dst, unit)
	}
	head := len(dst)
	if m == Small && len(xs) >= worthModel {
		s := getScratch(len(xs))
		defer s.put()
		var kind byte
		dst, kind = s.appendForetold(dst, xs)
		foretold := len(dst) - head
		// Where tables and states may not pay, or nothing can be foretold.
		if len(xs) < smallSeries || foretold > 6*len(xs) {
			dst = appendPacked(dst, xs)
			if packed := dst[head+foretold:]; len(packed) <= foretold {
				return dst[:head+copy(dst[head:], packed)]
			}
			dst = dst[:head+foretold]
		}
		dst[at] = dst[at]&seriesUnit | kind
		return dst
	}
	return appendPacked(dst, xs)
}

const (
	worthModel  = 8
	smallSeries = 1024
)

// measure leaves in xs how many units each is above the first, and is the
// greatest unit that fits all; 0 if they are all the same.
func measure(xs []int64) (unit int64) {
	base, any := xs[0], uint64(0)
	var g uint64
	for i := range xs {
		d := xs[i] - base
		xs[i] = d
		any |= uint64(d)
		if g != 1 && d != 0 {
			g = divisor(g, uint64(max(d, -d)))
		}
	}
	if any == 0 {
		return 0
	}
	if g <= 1 || int64(g) < 0 {
		return 1
	}
	unit = int64(g)
	if g&(g-1) == 0 {
		n := bits.TrailingZeros64(g)
		for i := range xs {
			xs[i] >>= n
		}
		return unit
	}
	for i := range xs {
		xs[i] /= unit
	}
	return unit
}

// divisor is the greatest common one; of 0 and b it is b.
func divisor(a, b uint64) uint64 {
	for a != 0 {
		a, b = b%a, a
	}
	return b
}

// readSeries fills dst with the series that r is at the front of and that goes
// to its end; or, where front is set, with the first numbers of it.
func (r *reader) readSeries(dst []int64) {
	head := r.byte()
	base, unit := r.int(), int64(1)
	if head&seriesUnit != 0 {
		unit = r.int()
	}
	if r.bad {
		return
	}
	switch head & seriesKind {
	case seriesSame:
		for i := range dst {
			dst[i] = base
		}
		r.bad = len(r.b) > 0
		return
	case seriesPacked:
		if unit == 1 {
			r.readPacked(dst, base)
			base = 0
		} else {
			r.readPacked(dst, 0)
		}
		r.bad = r.bad || len(r.b) > 0 && !r.front
	case seriesForetold:
		r.readForetold(dst, head)
	default:
		r.bad = true
	}
	switch {
	case r.bad || unit == 1 && base == 0:
	case unit == 1:
		for i := range dst {
			dst[i] += base
		}
	default:
		for i := range dst {
			dst[i] = base + unit*dst[i]
		}
	}
}
