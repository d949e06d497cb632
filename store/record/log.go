package record

import (
	"cmp"
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

// longestLogged is what a reading takes at most: tag, form, series, time, value.
const longestLogged = 1 + 5 + 5 + binary.MaxVarintLen64 + binary.MaxVarintLen64

// LogWriter makes log records, in memory that it uses again.
type LogWriter struct {
	forms []form
	body  []byte
	out   []byte
}

// Reset begins anew: what Next gave before may be written over.
func (w *LogWriter) Reset() { w.out = w.out[:0] }

// Next gives the sealed record, under key, of the first readings of rs, in
// order, and tells how many those are: as many as limit bytes hold, and at least
// one.
func (w *LogWriter) Next(key []byte, rs []Logged, limit int) (value []byte, n int) {
	n = w.encode(rs, limit)
	at := len(w.out)
	w.out = append(w.out, 0, 0, 0, 0)
	w.out = w.finish(w.out, n)
	value = w.out[at:len(w.out):len(w.out)]
	binary.LittleEndian.PutUint32(value, checksum(key, value[sealed:]))
	return value, n
}

// EncodeLog writes readings, in order, as one record without its seal: the forms
// that occur, then each reading as the difference to the one before it.
func EncodeLog(dst []byte, rs []Logged) []byte {
	var w LogWriter
	return w.finish(dst, w.encode(rs, math.MaxInt))
}

func (w *LogWriter) finish(dst []byte, n int) []byte {
	dst = binary.AppendUvarint(dst, uint64(len(w.forms)))
	for _, f := range w.forms {
		dst = append(appendString(dst, string(f.unit)), f.exp)
	}
	dst = binary.AppendUvarint(dst, uint64(n))
	return append(dst, w.body...)
}

func (w *LogWriter) encode(rs []Logged, limit int) int {
	w.forms = w.forms[:0]
	body := w.body[:0]
	room := limit - sealed - 2*binary.MaxVarintLen16 // their numbers
	var series uint32
	var at aquarium.Instant
	n := 0
	for ; n < len(rs) && (n == 0 || len(body)+longestLogged <= room); n++ {
		l := &rs[n]
		r := l.Reading
		m, exp, ok := column.Decimal(r.Value)
		if !ok {
			exp = rawValue
		}
		f, added := w.form(form{r.Unit, exp})
		room -= added
		tag := byte(min(f, tagForm))
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
		if f >= tagForm {
			body = binary.AppendUvarint(body, uint64(f))
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
	w.body = body
	return n
}

// form is the number of a form, and how many bytes it adds to the record.
func (w *LogWriter) form(f form) (n, added int) {
	for i := range w.forms {
		if have := &w.forms[i]; have.exp == f.exp && have.unit == f.unit {
			return i, 0
		}
	}
	w.forms = append(w.forms, f)
	return len(w.forms) - 1, len(f.unit) + 3
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
