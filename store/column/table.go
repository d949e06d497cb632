package column

import "math/bits"

// A symbol is a residual without its low bits; one that does not fit is an
// escape.
const (
	symbolMin = -64
	symbolMax = 63
	escape    = -128
)

// hist counts symbols, and escapes apart.
type hist struct {
	counts [symbolMax - symbolMin + 1]uint32
	escs   uint32
}

func (h *hist) add(symbol int64) {
	if uint64(symbol-symbolMin) < uint64(len(h.counts)) {
		h.counts[symbol-symbolMin]++
	} else {
		h.escs++
	}
}

type span struct{ from, freq uint16 }

// table is what coding needs: where each symbol's slots lie.
type table struct {
	spans [256]span // by the symbol as a byte
}

// levels are frequencies as they are written, on a scale of four steps to a
// doubling, 0 for a symbol that does not occur: weight 4, 5, 6, 7, 8, 10 ...
type levels [symbolMax - symbolMin + 2]uint8 // the last is the escape's

const (
	levelBits = 6
	levelTop  = 1 + 4*scaleBits // of a symbol that stands alone
	levelEsc  = symbolMax - symbolMin + 1
)

func weight(level uint8) uint32 {
	if level == 0 {
		return 0
	}
	return uint32(4+(level-1)&3) << ((level - 1) >> 2)
}

// level is the nearest for count of total.
func level(count, total uint32) uint8 {
	if count == 0 {
		return 0
	}
	w := max(4, uint64(count)*(4*scale)/uint64(total))
	e := bits.Len64(w) - 3
	m := w
	if e > 0 {
		m = (w + 1<<(e-1)) >> e
	}
	return uint8(1 + 4*e + int(m) - 4)
}

// frequencies share scale out among the symbols from lo to hi and the escape in
// proportion to their weights. What would get 1.5 or less gets 1; the others
// share the rest, each up to where the running sum of weights rounds down to:
// that is more than 1.5 * (1024-129)/1024 each, so none gets nothing. Where no
// symbol occurs at all, 0 has everything.
func (l *levels) frequencies(lo, hi int) (fs [levelEsc + 1]uint16) {
	var total, rest, small uint32
	from, to := lo-symbolMin, hi-symbolMin
	for i := from; i <= levelEsc; i++ {
		if i > to {
			i = levelEsc
		}
		total += weight(l[i])
	}
	if total == 0 {
		fs[-symbolMin] = scale
		return fs
	}
	for i := from; i <= levelEsc; i++ {
		if i > to {
			i = levelEsc
		}
		if w := weight(l[i]); w*2*scale > 3*total {
			rest += w
		} else if w > 0 {
			fs[i] = 1
			small++
		}
	}
	var sum, given uint32
	for i := from; i <= levelEsc; i++ {
		if i > to {
			i = levelEsc
		}
		if w := weight(l[i]); w > 0 && fs[i] == 0 {
			sum += w
			upTo := sum * (scale - small) / rest
			fs[i] = uint16(upTo - given)
			given = upTo
		}
	}
	return fs
}
