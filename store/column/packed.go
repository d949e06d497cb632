package column

import (
	"encoding/binary"
	"math/bits"
)

// frameLen is how many numbers are packed with one width.
const frameLen = 128

const (
	frameDelta = 0x80 // each number is packed as what it adds to the one before
	frameWidth = 0x7f
)

// appendPacked writes xs in frames, each in the narrower of two ways: above its
// least number, or above its least step.
func appendPacked(dst []byte, xs []int64) []byte {
	w := bitWriter{b: dst}
	last := int64(0)
	for len(xs) > 0 {
		f := xs[:min(frameLen, len(xs))]
		xs = xs[len(f):]
		lo, hi := f[0], f[0]
		dlo := f[0] - last
		dhi, prev := dlo, f[0]
		for _, x := range f[1:] {
			lo, hi = min(lo, x), max(hi, x)
			d := x - prev
			dlo, dhi = min(dlo, d), max(dhi, d)
			prev = x
		}
		width, dwidth := uint(bits.Len64(uint64(hi-lo))), uint(bits.Len64(uint64(dhi-dlo)))
		if dwidth < width {
			w.b = appendInt(append(w.b, frameDelta|byte(dwidth)), dlo)
			w.steps(f, last+dlo, dlo, dwidth)
		} else {
			w.b = appendInt(append(w.b, byte(width)), lo-last)
			w.offsets(f, lo, width)
		}
		w.close()
		last = prev
	}
	return w.b
}

// offsets puts each x - lo with n bits, the frame as a whole from a byte on.
func (w *bitWriter) offsets(f []int64, lo int64, n uint) {
	b, word, used := w.b, uint64(0), uint(0)
	for _, x := range f {
		u := uint64(x - lo)
		word |= u << (used & 63)
		if used += n; used >= 64 {
			b = binary.LittleEndian.AppendUint64(b, word)
			used -= 64
			word = u >> ((n - used) & 63)
			if used == 0 {
				word = 0
			}
		}
	}
	w.b, w.word, w.used = drain(b, word, used), 0, 0
}

// steps is offsets of what each x adds to the one before, lo first taken off.
func (w *bitWriter) steps(f []int64, next, lo int64, n uint) {
	b, word, used := w.b, uint64(0), uint(0)
	for _, x := range f {
		u := uint64(x - next)
		next = x + lo
		word |= u << (used & 63)
		if used += n; used >= 64 {
			b = binary.LittleEndian.AppendUint64(b, word)
			used -= 64
			word = u >> ((n - used) & 63)
			if used == 0 {
				word = 0
			}
		}
	}
	w.b, w.word, w.used = drain(b, word, used), 0, 0
}

func drain(b []byte, word uint64, used uint) []byte {
	for ; used > 0; used -= min(8, used) {
		b = append(b, byte(word))
		word >>= 8
	}
	return b
}

// readPacked fills dst from what appendPacked wrote, each above base.
func (r *reader) readPacked(dst []int64, base int64) {
	last := base
	for len(dst) > 0 {
		f := dst[:min(frameLen, len(dst))]
		dst = dst[len(f):]
		head := r.byte()
		least := r.int()
		width := uint(head & frameWidth)
		size := (len(f)*int(width) + 7) / 8
		if width > 64 || size > len(r.b) {
			r.bad = true
		}
		if r.bad {
			return
		}
		if head&frameDelta == 0 {
			unpack(f, r.b, width, last+least)
		} else {
			unpack(f, r.b, width, least)
			for i, d := range f {
				last += d
				f[i] = last
			}
		}
		last = f[len(f)-1]
		r.b = r.b[size:]
	}
}

// unpack reads len(f) numbers of n bits from the front of b and adds base.
func unpack(f []int64, b []byte, n uint, base int64) {
	if n == 0 {
		for i := range f {
			f[i] = base
		}
		return
	}
	if n > 56 {
		r := bitReader{b: b}
		for i := range f {
			f[i] = base + int64(r.takeLong(n))
		}
		return
	}
	var pad [frameLen*7 + 8]byte
	if size := (len(f)*int(n)+7)/8 + 8; len(b) < size {
		copy(pad[:], b)
		b = pad[:]
	}
	mask := uint64(1)<<n - 1
	if n <= 8 { // eight of them are in one word
		for len(f) >= 8 {
			g, word := (*[8]int64)(f), binary.LittleEndian.Uint64(b)
			for i := range g {
				g[i] = base + int64(word&mask)
				word >>= n & 63
			}
			f, b = f[8:], b[n:]
		}
	}
	at := uint(0)
	for i := range f {
		f[i] = base + int64(binary.LittleEndian.Uint64(b[at>>3:])>>(at&7)&mask)
		at += n
	}
}
