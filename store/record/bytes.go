package record

import (
	"encoding/binary"
	"fmt"
	"math"

	"lentic/collector/aquarium"
)

func appendString(b []byte, s string) []byte {
	return append(binary.AppendUvarint(b, uint64(len(s))), s...)
}

func appendInstant(b []byte, t aquarium.Instant) []byte {
	return binary.LittleEndian.AppendUint64(b, uint64(t))
}

func appendFloat(b []byte, v float64) []byte {
	return binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
}

// reader takes a value apart from its front. After the first thing that is not
// there it gives zeros, and end tells.
type reader struct {
	b   []byte
	err error
}

func (r *reader) take(n uint64) []byte {
	if r.err != nil {
		return nil
	}
	if n > uint64(len(r.b)) {
		r.err = fmt.Errorf("%w: ends %d bytes early", ErrCorrupt, n-uint64(len(r.b)))
		return nil
	}
	b := r.b[:n]
	r.b = r.b[n:]
	return b
}

func (r *reader) byte() byte {
	if b := r.take(1); b != nil {
		return b[0]
	}
	return 0
}

func (r *reader) uint64() uint64 {
	if b := r.take(8); b != nil {
		return binary.LittleEndian.Uint64(b)
	}
	return 0
}

func (r *reader) instant() aquarium.Instant { return aquarium.Instant(r.uint64()) }

func (r *reader) float() float64 { return math.Float64frombits(r.uint64()) }

func (r *reader) string() string { return string(r.bytes()) }

func (r *reader) bytes() []byte {
	if r.err != nil {
		return nil
	}
	n, used := binary.Uvarint(r.b)
	if used <= 0 {
		r.err = fmt.Errorf("%w: length of a string", ErrCorrupt)
		return nil
	}
	r.b = r.b[used:]
	return r.take(n)
}

// end is the first error, or ErrCorrupt where something is left over.
func (r *reader) end() error {
	if r.err == nil && len(r.b) > 0 {
		r.err = fmt.Errorf("%w: %d bytes too many", ErrCorrupt, len(r.b))
	}
	return r.err
}
