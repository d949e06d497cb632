package record

import (
	"encoding/binary"
	"fmt"
	"math"

	"lentic/collector/aquarium"
)

const (
	// BlockMax is how many readings a block holds at most: two full blocks
	// fill one page of 4 KiB, and a unit's number fits in seven bits.
	BlockMax = 128
	// BlockSpan is how much later than a block's first reading its last may
	// be: an offset is 32 bits of milliseconds, seven weeks.
	BlockSpan = math.MaxUint32

	blockKind  = 1
	readingLen = 13
	retimedBit = 0x80
)

// Block is a decoded block: readings of one sensor in order of time, no two at
// the same. Only At, Value, Unit and Retimed of them are set; the sensor is
// the block's key's business.
type Block []aquarium.Reading

// EncodeBlock seals 1 to BlockMax readings of one series, strictly rising in
// time and within BlockSpan, under the key that Key gives for the first.
// Anything else is an error of the caller's.
func EncodeBlock(key []byte, rs Block) ([]byte, error) {
	if len(rs) == 0 || len(rs) > BlockMax {
		return nil, fmt.Errorf("block of %d readings, want 1 to %d", len(rs), BlockMax)
	}
	var units []aquarium.Unit
	body := make([]byte, 0, 16+readingLen*len(rs))
	for i, r := range rs {
		if i > 0 && r.At <= rs[i-1].At || uint64(r.At-rs[0].At) > BlockSpan {
			return nil, fmt.Errorf("block from %s: reading %d at %s is out of order or too far", rs[0].At, i, r.At)
		}
		u := indexUnit(&units, r.Unit)
		if r.Retimed {
			u |= retimedBit
		}
		body = binary.LittleEndian.AppendUint32(body, uint32(r.At-rs[0].At))
		body = binary.LittleEndian.AppendUint64(body, math.Float64bits(r.Value))
		body = append(body, u)
	}
	head := []byte{blockKind, byte(len(units)), byte(len(rs))}
	for _, u := range units {
		head = appendString(head, string(u))
	}
	return Seal(make([]byte, 0, sealed+len(head)+len(body)), key, append(head, body...)), nil
}

func indexUnit(units *[]aquarium.Unit, u aquarium.Unit) byte {
	for i, have := range *units {
		if have == u {
			return byte(i)
		}
	}
	*units = append(*units, u)
	return byte(len(*units) - 1)
}

// DecodeBlock appends the readings of a block to dst, each marked as sensor's.
// Bytes that EncodeBlock did not write under that key are ErrCorrupt, and dst
// is returned as it was.
func DecodeBlock(dst []aquarium.Reading, sensor aquarium.SensorKey, key, value []byte) ([]aquarium.Reading, error) {
	_, start, err := SplitKey(key)
	if err != nil {
		return dst, err
	}
	content, err := Open(key, value)
	if err != nil {
		return dst, err
	}
	r := reader{b: content}
	if kind := r.byte(); kind != blockKind {
		return dst, fmt.Errorf("%w: block of kind %d, want %d", ErrCorrupt, kind, blockKind)
	}
	units := make([]aquarium.Unit, r.byte())
	n := int(r.byte())
	for i := range units {
		units[i] = aquarium.Unit(r.string())
	}
	if r.err != nil || n == 0 || n > BlockMax || len(r.b) != n*readingLen {
		return dst, fmt.Errorf("%w: block of %d readings has %d bytes of them", ErrCorrupt, n, len(r.b))
	}
	had := len(dst)
	for i := range n {
		b := r.b[i*readingLen:]
		off, u := binary.LittleEndian.Uint32(b), b[12]
		at := start + aquarium.Instant(off)
		if int(u&^retimedBit) >= len(units) || i == 0 && off != 0 || i > 0 && at <= dst[len(dst)-1].At {
			return dst[:had], fmt.Errorf("%w: reading %d of the block at %s", ErrCorrupt, i, start)
		}
		dst = append(dst, aquarium.Reading{
			Sensor: sensor, At: at, Unit: units[u&^retimedBit], Retimed: u&retimedBit != 0,
			Value: math.Float64frombits(binary.LittleEndian.Uint64(b[4:])),
		})
	}
	return dst, nil
}
