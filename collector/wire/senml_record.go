package wire

import (
	"math"

	"lentic/collector/aquarium"
)

// version is the SenML version understood (RFC 8428, section 4.4).
const version = 10

// kind is which of the value fields a record has.
type kind uint8

const (
	noValue kind = iota
	numeric      // v
	boolean      // vb
	textual      // vs
	opaque       // vd
	sumOnly      // s, and none of the others
	several      // more than one, which no record may have
)

// record is one resolved record of a SenML pack: base fields are worked in.
// Where err is not nil the record is not to be used, and err says why.
type record struct {
	name  []byte
	unit  aquarium.Unit // "" where neither u nor bu is given
	time  float64       // Unix seconds, or seconds from now: bt + t
	kind  kind
	value float64 // of numeric; 1 or 0 of boolean
	raw   []byte  // the record's own bytes
	err   *refusal
}

// base is what the base fields have been set to so far; they act on their own
// record and on all later ones (RFC 8428, section 4.1).
type base struct {
	name    []byte
	time    float64
	unit    aquarium.Unit
	value   float64
	sum     bool
	version float64
	names   []byte // of the records so far, put together
}

// take works the record's base fields in, and refuses what the RFC refuses the
// pack for.
func (b *base) take(f *fields, i int) *refusal {
	if f.must != "" {
		return refuse(aquarium.ReasonPack, "record %d: field %q must be understood, and is not (RFC 8428, section 4.4)", i+1, cut(f.must))
	}
	if f.base != nil {
		return refuse(aquarium.ReasonPack, "record %d: %s", i+1, f.base.detail)
	}
	if f.given[labelBVer] {
		v := f.number[labelBVer]
		if i > 0 && v != b.version {
			return refuse(aquarium.ReasonPack, "record %d: version %g after %g: a pack has one version", i+1, v, b.version)
		}
		if v > version || v < 1 || v != math.Trunc(v) {
			return refuse(aquarium.ReasonPack, "record %d: version %g is not understood: send version %d", i+1, v, version)
		}
		b.version = v
	}
	if f.given[labelBN] {
		b.name = f.text[labelBN]
	}
	if f.given[labelBT] {
		b.time = f.number[labelBT]
	}
	if f.given[labelBU] {
		b.unit = unitOf(f.text[labelBU])
	}
	if f.given[labelBV] {
		b.value = f.number[labelBV]
	}
	b.sum = b.sum || f.given[labelBS]
	return nil
}

// carrier reports whether the record only sets base fields. The RFC wants a
// value in every record; encoders that write the base first are common, and
// there is nothing in such a record to lose.
func (f *fields) carrier() bool {
	if f.own != nil {
		return false
	}
	sets := false
	for i, given := range f.given {
		switch l := label(i); {
		case !given || l == labelU || l == labelT || l == labelUT:
		case l.base():
			sets = true
		default:
			return false
		}
	}
	return sets
}

func (b *base) record(f *fields) record {
	r := record{name: f.text[labelN], unit: b.unit, time: b.time + f.number[labelT], raw: f.raw, err: f.own}
	if len(b.name) > 0 {
		at := len(b.names)
		b.names = append(append(b.names, b.name...), r.name...)
		r.name = b.names[at:]
	}
	if f.given[labelU] {
		r.unit = unitOf(f.text[labelU])
	}
	r.kind, r.value = b.number(f)
	return r
}

// number is which kind of value the record has, and its number where it is one.
func (b *base) number(f *fields) (kind, float64) {
	found, given := noValue, 0
	for _, may := range [...]struct {
		label
		kind
	}{{labelV, numeric}, {labelVB, boolean}, {labelVS, textual}, {labelVD, opaque}} {
		if f.given[may.label] {
			found, given = may.kind, given+1
		}
	}
	switch {
	case given > 1:
		return several, 0
	case given == 0 && (f.given[labelS] || b.sum):
		return sumOnly, 0
	case found == numeric:
		return found, b.value + f.number[labelV]
	case found == boolean && f.truth:
		return found, 1
	}
	return found, 0
}

// ourUnits are the units that readings may have, by their spelling: a reading
// then holds one of these and not a piece of its message.
var ourUnits = func() map[string]aquarium.Unit {
	us := map[string]aquarium.Unit{}
	for _, q := range aquarium.Quantities() {
		for _, u := range q.Units() {
			us[string(u)] = u
		}
	}
	return us
}()

func unitOf(text []byte) aquarium.Unit {
	if u, ok := ourUnits[string(text)]; ok {
		return u
	}
	return aquarium.Unit(text)
}

// checkName is RFC 8428, section 4.5.1: a letter or digit, then those and
// - : . / _ only.
func checkName(name []byte) *refusal {
	if len(name) == 0 {
		return refuse(aquarium.ReasonName, "the record has no name: send n, or bn")
	}
	for i, c := range name {
		word := c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9'
		mark := c == '-' || c == ':' || c == '.' || c == '/' || c == '_'
		if !word && (!mark || i == 0) {
			return refuse(aquarium.ReasonName, "name %q: character %q is not allowed there (RFC 8428, section 4.5.1)", cut(string(name)), c)
		}
	}
	return nil
}

// tail is what follows the last : / or _ of a name. Ids hold none of these, so
// that comparing it is the whole rule of suffixes.
func tail(name []byte) []byte {
	for i := len(name) - 1; i >= 0; i-- {
		if c := name[i]; c == ':' || c == '/' || c == '_' {
			return name[i+1:]
		}
	}
	return name
}
