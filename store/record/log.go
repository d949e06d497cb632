package record

import (
	"encoding/binary"
	"fmt"
	"math"

	"lentic/collector/aquarium"
	"lentic/store/column"
)

// Logged is one reading of a log record, with the number of its series in the
// place of its sensor.
type Logged struct {
	Series  uint32
	Reading *aquarium.Reading
}

// rawValue in the place of a decimal's exponent says that a value is written
// as the eight bytes of its float.
const rawValue = 0xff

// maxExponent is the greatest exponent of a column.Decimal.
const maxExponent = 15

// EncodeLog writes what one commit brought, in order: a table of units, then
// each reading as the difference to the one before it.
func EncodeLog(dst []byte, rs []Logged) []byte {
	var units []aquarium.Unit
	index := func(u aquarium.Unit) uint64 {
		for i, have := range units {
			if have == u {
				return uint64(i)
			}
		}
		units = append(units, u)
		return uint64(len(units) - 1)
	}
	body := make([]byte, 0, 8*len(rs))
	var series uint32
	var at aquarium.Instant
	for _, l := range rs {
		r := l.Reading
		mark := index(r.Unit) << 1
		if r.Retimed {
			mark |= 1
		}
		body = binary.AppendVarint(body, int64(l.Series)-int64(series))
		body = binary.AppendVarint(body, int64(r.At-at))
		body = binary.AppendUvarint(body, mark)
		body = appendValue(body, r.Value)
		series, at = l.Series, r.At
	}
	dst = binary.AppendUvarint(dst, uint64(len(units)))
	for _, u := range units {
		dst = appendString(dst, string(u))
	}
	dst = binary.AppendUvarint(dst, uint64(len(rs)))
	return append(dst, body...)
}

func appendValue(b []byte, v float64) []byte {
	if m, exp, ok := column.Decimal(v); ok {
		return binary.AppendVarint(append(b, exp), m)
	}
	return binary.LittleEndian.AppendUint64(append(b, rawValue), math.Float64bits(v))
}

// SealLog is a sealed log record.
func SealLog(key []byte, rs []Logged) []byte {
	b := EncodeLog(make([]byte, sealed, 64+8*len(rs)), rs)
	binary.LittleEndian.PutUint32(b, checksum(key, b[sealed:]))
	return b
}

// DecodeLog gives fn the readings of a log record, in the order they were
// written, one after the other in the same place. Their sensors are not set. Bytes that EncodeLog did not write are
// ErrCorrupt, when fn may have been given some.
func DecodeLog(b []byte, fn func(Logged)) error {
	r := reader{b: b}
	units := make([]aquarium.Unit, 0, 4)
	for n := r.uvarint(); n > 0 && r.err == nil; n-- {
		units = append(units, aquarium.Unit(r.string()))
	}
	l := Logged{Reading: &aquarium.Reading{}}
	for n := r.uvarint(); n > 0 && r.err == nil; n-- {
		l.Series += uint32(r.varint())
		l.Reading.At += aquarium.Instant(r.varint())
		mark := r.uvarint()
		l.Reading.Value = r.value()
		if r.err == nil && mark>>1 >= uint64(len(units)) {
			return fmt.Errorf("%w: unit %d of %d", ErrCorrupt, mark>>1, len(units))
		}
		if r.err == nil {
			l.Reading.Unit, l.Reading.Retimed = units[mark>>1], mark&1 == 1
			fn(l)
		}
	}
	return r.end()
}

func (r *reader) value() float64 {
	exp := r.byte()
	if exp == rawValue {
		return r.float()
	}
	if exp > maxExponent && r.err == nil {
		r.err = fmt.Errorf("%w: exponent %d", ErrCorrupt, exp)
	}
	return column.FromDecimal(r.varint(), exp)
}

func (r *reader) uvarint() uint64 {
	if r.err != nil {
		return 0
	}
	v, n := binary.Uvarint(r.b)
	return v + r.skip(n)
}

func (r *reader) varint() int64 {
	if r.err != nil {
		return 0
	}
	v, n := binary.Varint(r.b)
	return v + int64(r.skip(n))
}

// skip moves on by a number's n bytes; it is always 0.
func (r *reader) skip(n int) uint64 {
	if n <= 0 {
		r.err = fmt.Errorf("%w: a number is cut off", ErrCorrupt)
		r.b = nil
		return 0
	}
	r.b = r.b[n:]
	return 0
}
