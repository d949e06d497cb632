package wire

import (
	"encoding/binary"
	"iter"
)

// The major types of CBOR (RFC 8949, section 3.1).
const (
	majorUnsigned = iota
	majorNegative
	majorBytes
	majorText
	majorArray
	majorMap
	majorTag
	majorSimple // floats too
)

// cborHead is the head of an item: its major type, its argument, and the bytes
// of both.
type cborHead struct {
	major byte
	open  bool // of indefinite length, until a break
	size  int
	n     uint64
}

func cborMajor(item []byte) byte { return item[0] >> 5 }

// cborHeadOf reads the head of an item that is well formed, as what follows
// does too.
func cborHeadOf(item []byte) cborHead {
	h := cborHead{major: cborMajor(item), size: 1}
	switch info := item[0] & 0x1f; info {
	case 24:
		h.n, h.size = uint64(item[1]), 2
	case 25:
		h.n, h.size = uint64(binary.BigEndian.Uint16(item[1:])), 3
	case 26:
		h.n, h.size = uint64(binary.BigEndian.Uint32(item[1:])), 5
	case 27:
		h.n, h.size = binary.BigEndian.Uint64(item[1:]), 9
	case 31:
		h.open = true
	default:
		h.n = uint64(info)
	}
	return h
}

const cborBreak = 0xff

// cborItems are the items of an array, the keys and values of a map in turn,
// the chunks of a string in parts, or what a tag stands before.
func cborItems(whole []byte) iter.Seq[[]byte] {
	return func(yield func([]byte) bool) {
		h := cborHeadOf(whole)
		n := h.n
		switch h.major {
		case majorMap:
			n *= 2
		case majorTag:
			n = 1
		}
		for rest := whole[h.size:]; h.open && rest[0] != cborBreak || !h.open && n > 0; n-- {
			size := cborSize(rest)
			if !yield(rest[:size]) {
				return
			}
			rest = rest[size:]
		}
	}
}

// cborSize is the size of the item that b begins with.
func cborSize(b []byte) int {
	h := cborHeadOf(b)
	size := h.size
	switch {
	case h.open:
		size++ // the break
		fallthrough
	case h.major == majorArray, h.major == majorMap, h.major == majorTag:
		for item := range cborItems(b) {
			size += len(item)
		}
	case h.major == majorBytes, h.major == majorText:
		size += int(h.n)
	}
	return size
}
