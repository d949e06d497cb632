package wire

import (
	"math"

	"lentic/collector/aquarium"
)

// Relative is the border of RFC 8428, section 4.5.3: below it a time counts
// from now, from it on it is Unix seconds.
const Relative = 1 << 28

// version is the SenML version understood (RFC 8428, section 4.4).
const version = 10

// Kind is which of the value fields a record has.
type Kind uint8

const (
	NoValue Kind = iota
	Numeric      // v
	Boolean      // vb
	Text         // vs
	Data         // vd
	SumOnly      // s, and none of the others
	Several      // more than one, which no record may have
)

// Record is one resolved record of a SenML pack: base fields are worked in.
// Where Err is not nil the record is not to be used, and Err says why.
type Record struct {
	Name  string
	Unit  aquarium.Unit // "" where neither u nor bu is given
	Time  float64       // Unix seconds; relative times have now added
	Since float64       // the time as it was sent, bt + t
	Kind  Kind
	Value float64 // of Numeric; 1 or 0 of Boolean
	Raw   []byte  // the record's own bytes
	Err   error
}

// Absolute reports whether the record's time does not depend on now.
func (r *Record) Absolute() bool { return r.Since >= Relative }

// fields are the labels of one record that are understood, still in the terms
// of the pack.
type fields struct {
	bver, bt, bv, bs, t, v, s *float64
	bn, bu, n, u              *string
	vb                        *bool
	vs, vd                    bool
	must                      string   // a label ending in _
	base                      *refusal // a base field of the wrong type
	own                       *refusal // any other field of the wrong type
	raw                       []byte
}

// ParseSenML resolves a pack in JSON or CBOR as RFC 8428 says; now is in Unix
// seconds. Records come in the order of the pack. An error refuses the whole
// pack; what concerns one record only is its Err.
func ParseSenML(payload []byte, now float64) ([]Record, error) {
	rs, why := parsePack(payload, now)
	if why != nil {
		return nil, why
	}
	return rs, nil
}

func parsePack(payload []byte, now float64) ([]Record, *refusal) {
	var fs []fields
	var why *refusal
	if formOf(payload) == cborPack {
		fs, why = cborFields(payload)
	} else {
		fs, why = jsonFields(payload)
	}
	if why != nil {
		return nil, why
	}
	return resolve(fs, now)
}

// base is what the base fields have been set to so far; they act on their own
// record and on all later ones (RFC 8428, section 4.1).
type base struct {
	name    string
	time    float64
	unit    string
	value   float64
	sum     *float64
	version float64
}

func resolve(fs []fields, now float64) ([]Record, *refusal) {
	if len(fs) == 0 {
		return nil, refuse(aquarium.ReasonPack, "the pack holds no record")
	}
	b := base{version: version}
	rs := make([]Record, 0, len(fs))
	for i := range fs {
		f := &fs[i]
		if why := b.take(f, i); why != nil {
			return nil, why
		}
		if f.carrier() {
			continue
		}
		rs = append(rs, b.record(f, now))
	}
	return rs, nil
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
	if f.bver != nil {
		if i > 0 && *f.bver != b.version {
			return refuse(aquarium.ReasonPack, "record %d: version %g after %g: a pack has one version", i+1, *f.bver, b.version)
		}
		if *f.bver > version || *f.bver < 1 || *f.bver != math.Trunc(*f.bver) {
			return refuse(aquarium.ReasonPack, "record %d: version %g is not understood: send version %d", i+1, *f.bver, version)
		}
		b.version = *f.bver
	}
	if f.bn != nil {
		b.name = *f.bn
	}
	if f.bt != nil {
		b.time = *f.bt
	}
	if f.bu != nil {
		b.unit = *f.bu
	}
	if f.bv != nil {
		b.value = *f.bv
	}
	if f.bs != nil {
		b.sum = f.bs
	}
	return nil
}

// carrier reports whether the record only sets base fields. The RFC wants a
// value in every record; encoders that write the base first are common, and
// there is nothing in such a record to lose.
func (f *fields) carrier() bool {
	return f.n == nil && f.v == nil && f.vb == nil && !f.vs && !f.vd && f.s == nil && f.own == nil &&
		(f.bn != nil || f.bt != nil || f.bu != nil || f.bv != nil || f.bs != nil || f.bver != nil)
}

func (b *base) record(f *fields, now float64) Record {
	r := Record{Name: b.name, Unit: aquarium.Unit(b.unit), Since: b.time, Raw: f.raw}
	if f.n != nil {
		r.Name += *f.n
	}
	if f.u != nil {
		r.Unit = aquarium.Unit(*f.u)
	}
	if f.t != nil {
		r.Since += *f.t
	}
	r.Time = r.Since
	if r.Since < Relative {
		r.Time += now
	}
	r.Kind, r.Value = b.number(f)
	if f.own != nil {
		r.Err = f.own
	}
	return r
}

func (b *base) number(f *fields) (Kind, float64) {
	kind, v, given := NoValue, 0.0, 0
	if f.v != nil {
		kind, v, given = Numeric, b.value+*f.v, given+1
	}
	if f.vb != nil {
		kind, given = Boolean, given+1
		if *f.vb {
			v = 1
		}
	}
	if f.vs {
		kind, given = Text, given+1
	}
	if f.vd {
		kind, given = Data, given+1
	}
	switch {
	case given > 1:
		return Several, 0
	case given == 0 && (f.s != nil || b.sum != nil):
		return SumOnly, 0
	}
	return kind, v
}

// checkName is RFC 8428, section 4.5.1: a letter or digit, then those and
// - : . / _ only.
func checkName(name string) *refusal {
	if name == "" {
		return refuse(aquarium.ReasonName, "the record has no name: send n, or bn")
	}
	for i := 0; i < len(name); i++ {
		c := name[i]
		word := c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9'
		mark := c == '-' || c == ':' || c == '.' || c == '/' || c == '_'
		if !word && (!mark || i == 0) {
			return refuse(aquarium.ReasonName, "name %q: character %q is not allowed there (RFC 8428, section 4.5.1)", cut(name), c)
		}
	}
	return nil
}
