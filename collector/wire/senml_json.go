package wire

import (
	"encoding/json"
	"errors"
	"math"
	"strings"

	"lentic/collector/aquarium"
)

// jsonFields reads a pack in JSON (RFC 8428, section 5).
func jsonFields(payload []byte) ([]fields, *refusal) {
	var raws []json.RawMessage
	if err := json.Unmarshal(payload, &raws); err != nil {
		return nil, badJSON(payload, err)
	}
	if len(raws) > MaxRecords {
		return nil, tooMany(len(raws))
	}
	fs := make([]fields, len(raws))
	for i, raw := range raws {
		fs[i] = jsonRecord(raw)
	}
	return fs, nil
}

func tooMany(n int) *refusal {
	return refuse(aquarium.ReasonSize, "the pack has %d records: at most %d are taken", n, MaxRecords)
}

func badJSON(payload []byte, err error) *refusal {
	if syntax, ok := errors.AsType[*json.SyntaxError](err); ok {
		why := refuse(aquarium.ReasonSyntax, "not JSON from byte %d on: %v", syntax.Offset, err)
		// NaN and Infinity are what a careless encoder writes for "no
		// value"; JSON has no such words.
		near := payload[max(0, int(syntax.Offset)-2):min(len(payload), int(syntax.Offset)+10)]
		if s := strings.ToLower(string(near)); strings.Contains(s, "nan") || strings.Contains(s, "inf") {
			why = refuse(aquarium.ReasonValue, "byte %d: NaN and infinities are no values: leave the record out", syntax.Offset)
		}
		return why
	}
	return refuse(aquarium.ReasonSyntax, "not a SenML pack: %v", err)
}

func jsonRecord(raw json.RawMessage) fields {
	f := fields{raw: raw}
	var m map[string]json.RawMessage
	if err := json.Unmarshal(raw, &m); err != nil || m == nil {
		f.own = refuse(aquarium.ReasonSyntax, "the record is not a JSON object")
		return f
	}
	for label, value := range m {
		f.setJSON(label, value)
	}
	return f
}

func (f *fields) setJSON(label string, raw json.RawMessage) {
	wrong := func(to **refusal, want string) {
		if *to == nil {
			*to = refuse(aquarium.ReasonKind, "%s is %s: want %s", label, cut(string(raw)), want)
		}
	}
	num := func(to **float64, bad **refusal) {
		var v float64
		if err := json.Unmarshal(raw, &v); err != nil || string(raw) == "null" {
			wrong(bad, "a number")
			if math.IsInf(jsonFloat(raw), 0) {
				(*bad).reason = aquarium.ReasonValue
				(*bad).detail = label + " is too large for a number"
			}
			return
		}
		*to = &v
	}
	str := func(to **string, bad **refusal) {
		var v string
		if err := json.Unmarshal(raw, &v); err != nil || string(raw) == "null" {
			wrong(bad, "a string")
			return
		}
		*to = &v
	}
	switch label {
	case "bver":
		num(&f.bver, &f.base)
	case "bt":
		num(&f.bt, &f.base)
	case "bv":
		num(&f.bv, &f.base)
	case "bs":
		num(&f.bs, &f.base)
	case "bn":
		str(&f.bn, &f.base)
	case "bu":
		str(&f.bu, &f.base)
	case "n":
		str(&f.n, &f.own)
	case "u":
		str(&f.u, &f.own)
	case "t":
		num(&f.t, &f.own)
	case "v":
		num(&f.v, &f.own)
	case "s":
		num(&f.s, &f.own)
	case "vb":
		var v *bool
		if err := json.Unmarshal(raw, &v); err != nil || v == nil {
			wrong(&f.own, "true or false")
			return
		}
		f.vb = v
	case "vs":
		f.vs = true
	case "vd":
		f.vd = true
	default:
		if strings.HasSuffix(label, "_") {
			f.must = label
		}
	}
}

// jsonFloat is the value of a JSON number even where it overflows, 0 otherwise.
func jsonFloat(raw json.RawMessage) float64 {
	v, why := number(string(raw))
	if why != nil && why.reason == aquarium.ReasonValue && len(raw) > 0 && raw[0] != 'n' {
		return math.Inf(1)
	}
	return v
}
