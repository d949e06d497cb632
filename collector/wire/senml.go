package wire

import "lentic/collector/aquarium"

// label is a field of a record. They are numbered as in CBOR (RFC 8428, section
// 6, table 4), whose first is -6.
type label uint8

const (
	labelBS label = iota
	labelBV
	labelBU
	labelBT
	labelBN
	labelBVer
	labelN
	labelU
	labelV
	labelVS
	labelVB
	labelS
	labelT
	labelUT // how often it comes: understood, and of no use here
	labelVD
	labels // how many there are
)

var labelNames = [labels]string{"bs", "bv", "bu", "bt", "bn", "bver", "n", "u", "v", "vs", "vb", "s", "t", "ut", "vd"}

var labelOf = func() map[string]label {
	ls := map[string]label{}
	for l, name := range labelNames {
		ls[name] = label(l)
	}
	return ls
}()

// base reports whether the label is a base field.
func (l label) base() bool { return l <= labelBVer }

// syntax is one of the two ways in which a pack is written. What it refuses
// about a value it says without the name of the label.
type syntax int

const (
	inJSON syntax = iota
	inCBOR
)

// records appends the records of a pack to into, as they were sent.
func (x syntax) records(payload []byte, into [][]byte) ([][]byte, *refusal) {
	if x == inCBOR {
		return cborRecords(payload, into)
	}
	return jsonRecords(payload, into)
}

func (x syntax) members(record []byte, to *members) *refusal {
	if x == inCBOR {
		return cborMembers(record, to)
	}
	return jsonMembers(record, to)
}

func (x syntax) number(raw []byte) (float64, *refusal) {
	if x == inCBOR {
		return cborNumber(raw)
	}
	return jsonNumber(raw)
}

func (x syntax) text(raw []byte) ([]byte, *refusal) {
	if x == inCBOR {
		return cborText(raw)
	}
	return jsonText(raw)
}

func (x syntax) boolean(raw []byte) (bool, *refusal) {
	if x == inCBOR {
		return cborBoolean(raw)
	}
	return jsonBoolean(raw)
}

// members are the values of one record as they were sent; nil where there is
// none.
type members struct {
	raw  [labels][]byte
	must string // a label ending in _
}

// fields are the members of one record that could be read, in the terms of the
// pack.
type fields struct {
	given  [labels]bool
	number [labels]float64
	text   [labels][]byte
	truth  bool     // vb
	must   string   // a label ending in _
	base   *refusal // a base field of the wrong type
	own    *refusal // any other field of the wrong type, or all of the record
	raw    []byte
}

// fieldsOf takes a record apart.
func fieldsOf(record []byte, in syntax) fields {
	f := fields{raw: record}
	var m members
	if f.own = in.members(record, &m); f.own != nil {
		return f
	}
	f.must = m.must
	for i, raw := range m.raw {
		if raw != nil {
			f.read(label(i), raw, in)
		}
	}
	return f
}

func (f *fields) read(l label, raw []byte, in syntax) {
	var why *refusal
	switch l {
	case labelBN, labelBU, labelN, labelU:
		f.text[l], why = in.text(raw)
	case labelVB:
		f.truth, why = in.boolean(raw)
	case labelVS, labelVD, labelUT:
	default:
		f.number[l], why = in.number(raw)
	}
	f.given[l] = why == nil
	if why == nil {
		return
	}
	to := &f.own
	if l.base() {
		to = &f.base
	}
	if *to == nil { // the first counts
		why.detail = labelNames[l] + " " + why.detail
		*to = why
	}
}

// parsePack resolves a pack in JSON or CBOR as RFC 8428 says. Its records come
// in its own order. A refusal is of the whole pack; what concerns one record
// only is its err. Records share the payload's bytes.
func parsePack(payload []byte) ([]record, *refusal) {
	in := inJSON
	if formOf(payload) == cborPack {
		in = inCBOR
	}
	var few [16][]byte
	raws, why := in.records(payload, few[:0])
	switch {
	case why != nil:
		return nil, why
	case len(raws) > MaxRecords:
		return nil, refuse(aquarium.ReasonSize, "the pack has %d records: at most %d are taken", len(raws), MaxRecords)
	case len(raws) == 0:
		return nil, refuse(aquarium.ReasonPack, "the pack holds no record")
	}
	b := base{version: version}
	rs := make([]record, 0, len(raws))
	for i, raw := range raws {
		f := fieldsOf(raw, in)
		if why := b.take(&f, i); why != nil {
			return nil, why
		}
		if !f.carrier() {
			rs = append(rs, b.record(&f))
		}
	}
	return rs, nil
}
