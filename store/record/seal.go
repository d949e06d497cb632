package record

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
)

// Format is the number of the layout that this package writes. Format 2 it
// reads as well, and goes on with.
const Format, OldestRead = 3, 2

// ErrCorrupt is wrapped by every error of decoding: the bytes are not what was
// written under that key.
var ErrCorrupt = errors.New("corrupt record")

var errChecksum = fmt.Errorf("%w: CRC-32C does not match", ErrCorrupt)

// castagnoli is the polynomial of CRC-32C (RFC 3720, appendix B.4), which
// common processors compute in one instruction.
var castagnoli = crc32.MakeTable(crc32.Castagnoli)

const sealed = 4 // bytes of the checksum

func checksum(key, content []byte) uint32 {
	return crc32.Update(crc32.Checksum(key, castagnoli), castagnoli, content)
}

// Seal appends to dst the checksum of key and content, then content.
func Seal(dst, key, content []byte) []byte {
	dst = binary.LittleEndian.AppendUint32(dst, checksum(key, content))
	return append(dst, content...)
}

// Open returns the content of a value sealed under key, or ErrCorrupt. The
// content shares the value's memory.
func Open(key, value []byte) ([]byte, error) {
	if len(value) < sealed {
		return nil, fmt.Errorf("%w: %d bytes, want at least %d", ErrCorrupt, len(value), sealed)
	}
	want, got := binary.LittleEndian.Uint32(value), checksum(key, value[sealed:])
	if want != got {
		return nil, fmt.Errorf("%w: CRC-32C is %08x, stored as %08x", ErrCorrupt, got, want)
	}
	return value[sealed:], nil
}
