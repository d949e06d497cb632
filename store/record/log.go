package record

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"math"
	"slices"

	"lentic/collector/aquarium"
	"lentic/store/column"
)

// Logged is one reading of a log record, with the number of its series in the
// place of its sensor.
type Logged struct {
	Series uint32
	Point
}

// Point is a reading but for its sensor.
type Point struct {
	Retimed bool
	At      aquarium.Instant
	Value   float64
	Unit    aquarium.Unit
}

// PointOf leaves a reading's sensor out.
func PointOf(r *aquarium.Reading) Point { return Point{r.Retimed, r.At, r.Value, r.Unit} }

// Reading is the sensor's reading.
func (p *Point) Reading(k aquarium.SensorKey) aquarium.Reading {
	return aquarium.Reading{Sensor: k, At: p.At, Value: p.Value, Unit: p.Unit, Retimed: p.Retimed}
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

// LogWriter makes log records, in memory that it uses again. What it has met
// it expects again: the readings of a series mostly have one form.
type LogWriter struct {
	known   []knownForm
	expects [1 << 10]uint16 // by the lowest bits of a series' number, the index of a known form
	record  uint64          // counts records
	forms   []form          // of this record
	body    []byte
	out     []byte
}

// knownForm is one that some record had; its number is that in the record it had
// it last.
type knownForm struct {
	form
	record uint64
	number int
}

// mostKnown is how many forms are kept in mind: more would hardly be met again.
const mostKnown = 1 << 10

// fewPlaces are so few that a value with less of them is written with as many as
// its sensor mostly has: a form of its own would be longer than its zeros.
const fewPlaces = 3

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
	w.record++
	w.forms = w.forms[:0]
	body := w.body[:0]
	room := limit - sealed - 2*binary.MaxVarintLen16 // their numbers
	var series uint32
	var at aquarium.Instant
	n := 0
	for ; n < len(rs) && (n == 0 || len(body)+longestLogged <= room); n++ {
		l := &rs[n]
		known, m := w.fit(l)
		if known.record != w.record {
			known.record, known.number = w.record, len(w.forms)
			w.forms = append(w.forms, known.form)
			room -= len(known.unit) + 3
		}
		f := known.number
		tag := byte(min(f, tagForm))
		if l.At == at {
			tag |= tagAt
		}
		if l.Series == series+1 {
			tag |= tagNext
		}
		if l.Retimed {
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
			body = binary.AppendVarint(body, int64(l.At-at))
		}
		if known.exp != rawValue {
			body = binary.AppendVarint(body, m)
		} else {
			body = appendFloat(body, l.Value)
		}
		series, at = l.Series, l.At
	}
	w.body = body
	return n
}

// fit is the form of a reading, and its value's mantissa in it.
func (w *LogWriter) fit(l *Logged) (*knownForm, int64) {
	expected := &w.expects[l.Series%uint32(len(w.expects))]
	if i := int(*expected); i < len(w.known) {
		f := &w.known[i]
		if f.exp <= maxExponent && f.unit == l.Unit {
			m, ok := column.DecimalAt(l.Value, f.exp)
			if ok && (f.exp <= fewPlaces || m%100 != 0) {
				return f, m
			}
		}
	}
	m, exp, ok := column.Decimal(l.Value)
	if !ok {
		exp = rawValue
	}
	i := w.know(form{l.Unit, exp})
	*expected = uint16(i)
	return &w.known[i], m
}

// know is the index of a form among those that are known.
func (w *LogWriter) know(f form) int {
	for i := range w.known {
		if have := &w.known[i]; have.exp == f.exp && have.unit == f.unit {
			return i
		}
	}
	if len(w.known) >= mostKnown {
		w.known = slices.DeleteFunc(w.known, func(k knownForm) bool { return k.record != w.record })
	}
	w.known = append(w.known, knownForm{form: f})
	return len(w.known) - 1
}

// DecodeLog gives fn the readings of a log record, in the order they were
// written. Bytes that EncodeLog did not write are ErrCorrupt, when fn may have
// been given some.
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
	var l Logged
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
		l.At += aquarium.Instant(r.varint())
	}
	f := forms[n]
	l.Unit, l.Retimed = f.unit, tag&tagRetimed != 0
	if f.exp == rawValue {
		l.Value = r.float()
	} else {
		l.Value = column.FromDecimal(r.varint(), f.exp)
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
