package record

import (
	"encoding/binary"
	"fmt"

	"lentic/collector/aquarium"
)

// KeyLen is the length of a block's key in bytes.
const KeyLen = 12

// Key is the key of the block of that series whose first reading is at t.
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
