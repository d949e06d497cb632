package peer

import (
	"encoding/binary"
	"math"
	"os"
	"syscall"

	"lentic/store/bench/tanks"
)

// Plain appends to a file and syncs it: the floor of what durable can cost.
type Plain struct {
	f   *os.File
	buf []byte
}

// NewPlain makes the file.
func NewPlain(path string) (*Plain, error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY|os.O_APPEND|os.O_EXCL, 0o600)
	if err != nil {
		return nil, err
	}
	return &Plain{f: f}, nil
}

func (p *Plain) Name() string { return "plain file" }

func (p *Plain) Commit(rs []tanks.Reading) error {
	p.buf = Encode(p.buf[:0], rs)
	if _, err := p.f.Write(p.buf); err != nil {
		return err
	}
	return syscall.Fdatasync(int(p.f.Fd()))
}

func (p *Plain) Close() error { return p.f.Close() }

// Encode writes readings the shortest plain way: the series and the time since
// the first as varints and the value as a double, some 11 bytes each.
func Encode(dst []byte, rs []tanks.Reading) []byte {
	if len(rs) == 0 {
		return dst
	}
	base := rs[0].At
	dst = binary.LittleEndian.AppendUint64(dst, uint64(base))
	for _, r := range rs {
		dst = binary.AppendUvarint(dst, uint64(r.Series))
		dst = binary.AppendVarint(dst, r.At-base)
		dst = binary.LittleEndian.AppendUint64(dst, math.Float64bits(r.Value))
	}
	return dst
}
