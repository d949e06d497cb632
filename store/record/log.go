package record

import (
	"cmp"
	"encoding/binary"
	"fmt"

	"lentic/collector/aquarium"
	"lentic/store/column"
)

// Logged is one reading of a log record, with the number of its series in the
// place of its sensor.
type Logged struct {
	Series  uint32
	Reading *aquarium.Reading
}

// A reading in a log record begins with a tag: which of the record's forms it
// has, and what it has in common with the reading before it.
const (
	tagForm    = 0x1f // 31: the form's number follows
	tagAt      = 0x20 // at the same time
	tagNext    = 0x40 // of the next series
	tagRetimed = 0x80
)

// form is what readings of one sensor mostly have in common: their unit and
// the number of their decimal places.
type form struct {
	unit aquarium.Unit
	exp  uint8
}

// rawValue in the place of an exponent says that a value is written as the
// eight bytes of its float.
const rawValue = 0xff

// maxExponent is the greatest exponent of a column.Decimal.
const maxExponent = 15

// EncodeLog writes what one commit brought, in order: the forms that occur,
// then each reading as the difference to the one before it.
func EncodeLog(dst []byte, rs []Logged) []byte {
	var room [16]form
	forms := room[:0]
	body := make([]byte, 0, 8*len(rs))
	var series uint32
	var at aquarium.Instant
	for _, l := range rs {
		r := l.Reading
		m, exp, ok := column.Decimal(r.Value)
		if !ok {
			exp = rawValue
		}
		n := indexForm(&forms, form{r.Unit, exp})
		tag := byte(min(n, tagForm))
		if r.At == at {
			tag |= tagAt
		}
		if l.Series == series+1 {
			tag |= tagNext
		}
		if r.Retimed {
			tag |= tagRetimed
		}
		body = append(body, tag)
		if n >= tagForm {
			body = binary.AppendUvarint(body, uint64(n))
		}
		if tag&tagNext == 0 {
			body = binary.AppendVarint(body, int64(l.Series)-int64(series))
		}
		if tag&tagAt == 0 {
			body = binary.AppendVarint(body, int64(r.At-at))
		}
		if ok {
			body = binary.AppendVarint(body, m)
		} else {
			body = appendFloat(body, r.Value)
		}
		series, at = l.Series, r.At
	}
	dst = binary.AppendUvarint(dst, uint64(len(forms)))
	for _, f := range forms {
		dst = append(appendString(dst, string(f.unit)), f.exp)
	}
	dst = binary.AppendUvarint(dst, uint64(len(rs)))
	return append(dst, body...)
}

func indexForm(forms *[]form, f form) int {
	for i, have := range *forms {
		if have == f {
			return i
		}
	}
	*forms = append(*forms, f)
	return len(*forms) - 1
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
	var forms []form
	for n := r.uvarint(); n > 0 && r.err == nil; n-- {
		f := form{aquarium.Unit(r.string()), r.byte()}
		if r.err == nil && f.exp > maxExponent && f.exp != rawValue {
			return fmt.Errorf("%w: exponent %d", ErrCorrupt, f.exp)
		}
		forms = append(forms, f)
	}
	l := Logged{Reading: &aquarium.Reading{}}
	for n := r.uvarint(); n > 0; n-- {
		if r.logged(&l, forms); r.err != nil {
			return r.err
		}
		fn(l)
	}
	return r.end()
}

// logged reads one reading over the one before it.
func (r *reader) logged(l *Logged, forms []form) {
	tag := r.byte()
	n := uint64(tag & tagForm)
	if n == tagForm {
		n = r.uvarint()
	}
	if n >= uint64(len(forms)) {
		r.err = cmp.Or(r.err, fmt.Errorf("%w: form %d of %d", ErrCorrupt, n, len(forms)))
		return
	}
	if tag&tagNext != 0 {
		l.Series++
	} else {
		l.Series += uint32(r.varint())
	}
	if tag&tagAt == 0 {
		l.Reading.At += aquarium.Instant(r.varint())
	}
	f := forms[n]
	l.Reading.Unit, l.Reading.Retimed = f.unit, tag&tagRetimed != 0
	if f.exp == rawValue {
		l.Reading.Value = r.float()
	} else {
		l.Reading.Value = column.FromDecimal(r.varint(), f.exp)
	}
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
