package column

import (
	"encoding/binary"
	"math/bits"
)

// zigzag folds the sign into the lowest bit, so that small numbers of either
// sign are short.
func zigzag(v int64) uint64 { return uint64(v<<1) ^ uint64(v>>63) }

func unzigzag(u uint64) int64 { return int64(u>>1) ^ -int64(u&1) }

func appendInt(b []byte, v int64) []byte { return binary.AppendUvarint(b, zigzag(v)) }

// reader takes a column apart from its front. After the first thing that is not
// there it gives zeros, and bad tells.
type reader struct {
	b     []byte
	bad   bool
	front bool // of a series only the first numbers are read, and its end is not
}

func (r *reader) byte() byte {
	if len(r.b) == 0 {
		r.bad = true
		return 0
	}
	c := r.b[0]
	r.b = r.b[1:]
	return c
}

func (r *reader) uint64() uint64 {
	if len(r.b) < 8 {
		r.bad, r.b = true, nil
		return 0
	}
	u := binary.LittleEndian.Uint64(r.b)
	r.b = r.b[8:]
	return u
}

func (r *reader) uint() uint64 {
	u, used := binary.Uvarint(r.b)
	if used <= 0 {
		r.bad, r.b = true, nil
		return 0
	}
	r.b = r.b[used:]
	return u
}

func (r *reader) int() int64 { return unzigzag(r.uint()) }

// bitWriter appends whole bits, the lowest first.
type bitWriter struct {
	b    []byte
	word uint64
	used uint // bits of word that are taken, below 8 between calls
}

// put appends the lowest n bits of v, n at most 56; the others must be zero.
func (w *bitWriter) put(v uint64, n uint) {
	w.word |= v << w.used
	w.used += n
	for w.used >= 8 {
		w.b = append(w.b, byte(w.word))
		w.word >>= 8
		w.used -= 8
	}
}

// putLong is put for n up to 64.
func (w *bitWriter) putLong(v uint64, n uint) {
	if n > 32 {
		w.put(v&(1<<32-1), 32)
		v, n = v>>32, n-32
	}
	w.put(v, n)
}

// close fills the last byte with zeros.
func (w *bitWriter) close() []byte {
	if w.used > 0 {
		w.b = append(w.b, byte(w.word))
	}
	w.word, w.used = 0, 0
	return w.b
}

// bitReader reads what bitWriter wrote. Past the end it gives zeros, and at
// goes on: whoever reads compares it with where the bits had to end.
type bitReader struct {
	b  []byte
	at int // in bits
}

// take reads n bits, n at most 56.
func (r *bitReader) take(n uint) uint64 {
	i := r.at >> 3
	var word uint64
	if i+8 <= len(r.b) {
		word = binary.LittleEndian.Uint64(r.b[i:])
	} else {
		for j := len(r.b) - 1; j >= i; j-- {
			word = word<<8 | uint64(r.b[j])
		}
	}
	word = word >> (r.at & 7) & (1<<n - 1)
	r.at += int(n)
	return word
}

// takeLong is take for n up to 64.
func (r *bitReader) takeLong(n uint) uint64 {
	if n <= 32 {
		return r.take(n)
	}
	low := r.take(32)
	return r.take(n-32)<<32 | low
}

// end is the byte after the last bit that was read.
func (r *bitReader) end() int { return (r.at + 7) >> 3 }

// putGamma appends v, below 2^24, by Elias's gamma code of v + 1: as many zeros
// as it has bits after its first, a one, those bits.
func (w *bitWriter) putGamma(v uint64) {
	n := uint(bits.Len64(v+1)) - 1
	w.put(1<<n, n+1)
	w.put(v+1-1<<n, n)
}

func (r *bitReader) takeGamma() uint64 {
	n := r.takeZeros()
	return 1<<n + r.take(n) - 1
}

// putRice appends v by Rice's code: v >> k zeros, a one, the low k bits.
// v >> k is at most 48.
func (w *bitWriter) putRice(v uint64, k uint) {
	w.put(1<<(v>>k), uint(v>>k)+1)
	w.put(v&(1<<k-1), k)
}

func (r *bitReader) takeRice(k uint) uint64 {
	q := r.takeZeros()
	return uint64(q)<<k | r.take(k)
}

// takeZeros counts zeros, at most 48, and goes past the one that ends them.
func (r *bitReader) takeZeros() uint {
	at := r.at
	n := min(48, uint(bits.TrailingZeros64(r.take(49))))
	r.at = at + int(n) + 1
	return n
}
