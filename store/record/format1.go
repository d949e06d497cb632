package record

import (
	"encoding/binary"
	"fmt"
	"math"

	"lentic/collector/aquarium"
)

// Format 1 kept blocks of at most 128 readings of one series. They are read
// once more, when its database becomes one of the present format.
const (
	block1Max  = 128
	block1Kind = 1
	reading1   = 13 // bytes
	retimed1   = 0x80
)

// DecodeBlock1 appends the readings of a block of format 1 to dst, each marked
// as sensor's. Bytes that are no such block under that key are ErrCorrupt, and
// dst is returned as it was.
func DecodeBlock1(dst []aquarium.Reading, sensor aquarium.SensorKey, key, value []byte) ([]aquarium.Reading, error) {
	_, start, err := SplitKey(key)
	if err != nil {
		return dst, err
	}
	content, err := Open(key, value)
	if err != nil {
		return dst, err
	}
	r := reader{b: content}
	if kind := r.byte(); kind != block1Kind {
		return dst, fmt.Errorf("%w: block of kind %d, want %d", ErrCorrupt, kind, block1Kind)
	}
	units := make([]aquarium.Unit, r.byte())
	n := int(r.byte())
	for i := range units {
		units[i] = aquarium.Unit(r.string())
	}
	if r.err != nil || n == 0 || n > block1Max || len(r.b) != n*reading1 {
		return dst, fmt.Errorf("%w: block of %d readings has %d bytes of them", ErrCorrupt, n, len(r.b))
	}
	had := len(dst)
	for i := range n {
		b := r.b[i*reading1:]
		off, u := binary.LittleEndian.Uint32(b), b[12]
		at := start + aquarium.Instant(off)
		if int(u&^retimed1) >= len(units) || i == 0 && off != 0 || i > 0 && at <= dst[len(dst)-1].At {
			return dst[:had], fmt.Errorf("%w: reading %d of the block at %s", ErrCorrupt, i, start)
		}
		dst = append(dst, aquarium.Reading{
			Sensor: sensor, At: at, Unit: units[u&^retimed1], Retimed: u&retimed1 != 0,
			Value: math.Float64frombits(binary.LittleEndian.Uint64(b[4:])),
		})
	}
	return dst, nil
}
