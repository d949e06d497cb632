package record

import (
	"encoding/binary"
	"fmt"

	"lentic/collector/aquarium"
)

// KeyLen is the length of a block's key in bytes, in any format.
const KeyLen = 12

// Key is the key that format 1 gave to the block of that series whose first
// reading is at t, and that a damaged column is put aside under.
// Keys sort by series, then by time, times before 1970 included.
func Key(series uint32, t aquarium.Instant) []byte {
	k := binary.BigEndian.AppendUint32(make([]byte, 0, KeyLen), series)
	return binary.BigEndian.AppendUint64(k, uint64(t)^1<<63)
}

// SplitKey is the inverse of Key.
func SplitKey(k []byte) (series uint32, t aquarium.Instant, err error) {
	if len(k) != KeyLen {
		return 0, 0, fmt.Errorf("%w: key of %d bytes, want %d", ErrCorrupt, len(k), KeyLen)
	}
	return binary.BigEndian.Uint32(k), aquarium.Instant(binary.BigEndian.Uint64(k[4:]) ^ 1<<63), nil
}

// BlockKey is the key of the block, or the rollup, of a group that begins at
// start. Keys sort by time first, so that what is written together lies
// together, and what grows old leaves together.
func BlockKey(start aquarium.Instant, group uint32) []byte {
	k := binary.BigEndian.AppendUint64(make([]byte, 0, KeyLen), uint64(start)^1<<63)
	return binary.BigEndian.AppendUint32(k, group)
}

// SplitBlockKey is the inverse of BlockKey.
func SplitBlockKey(k []byte) (start aquarium.Instant, group uint32, err error) {
	if len(k) != KeyLen {
		return 0, 0, fmt.Errorf("%w: key of %d bytes, want %d", ErrCorrupt, len(k), KeyLen)
	}
	return aquarium.Instant(binary.BigEndian.Uint64(k) ^ 1<<63), binary.BigEndian.Uint32(k[8:]), nil
}

// LogKey is the key of the log record with that sequence.
func LogKey(seq uint64) []byte { return binary.BigEndian.AppendUint64(nil, seq) }

// SplitLogKey is the inverse of LogKey.
func SplitLogKey(k []byte) (seq uint64, err error) {
	if len(k) != 8 {
		return 0, fmt.Errorf("%w: key of %d bytes, want 8", ErrCorrupt, len(k))
	}
	return binary.BigEndian.Uint64(k), nil
}

// EncodeSensor writes the name of a series, part by part.
func EncodeSensor(k aquarium.SensorKey) []byte {
	var b []byte
	b = appendString(b, string(k.Site))
	b = appendString(b, string(k.Tank))
	return appendString(b, string(k.Sensor))
}

// DecodeSensor is the inverse of EncodeSensor.
func DecodeSensor(b []byte) (aquarium.SensorKey, error) {
	r := reader{b: b}
	k := aquarium.SensorKey{
		Site: aquarium.SiteID(r.string()), Tank: aquarium.TankID(r.string()), Sensor: aquarium.SensorID(r.string()),
	}
	return k, r.end()
}

// EncodeSeries writes a series: the number of its group, and its name.
func EncodeSeries(group uint32, k aquarium.SensorKey) []byte {
	return append(binary.LittleEndian.AppendUint32(nil, group), EncodeSensor(k)...)
}

// DecodeSeries is the inverse of EncodeSeries.
func DecodeSeries(b []byte) (group uint32, k aquarium.SensorKey, err error) {
	r := reader{b: b}
	if g := r.take(4); g != nil {
		group = binary.LittleEndian.Uint32(g)
	}
	if r.err != nil {
		return 0, k, r.err
	}
	k, err = DecodeSensor(r.b)
	return group, k, err
}

// Bounds are the starts of the first and the last block with readings of a
// series.
type Bounds struct {
	Series      uint32
	First, Last aquarium.Instant
}

// EncodeBounds writes the bounds of a group's series.
func EncodeBounds(bs []Bounds) []byte {
	b := binary.AppendUvarint(nil, uint64(len(bs)))
	for _, x := range bs {
		b = binary.AppendUvarint(b, uint64(x.Series))
		b = appendInstant(b, x.First)
		b = appendInstant(b, x.Last)
	}
	return b
}

// DecodeBounds is the inverse of EncodeBounds.
func DecodeBounds(b []byte) ([]Bounds, error) {
	r := reader{b: b}
	var bs []Bounds
	for n := r.uvarint(); n > 0 && r.err == nil; n-- {
		bs = append(bs, Bounds{uint32(r.uvarint()), r.instant(), r.instant()})
	}
	return bs, r.end()
}
