package wire

import (
	"bytes"
	"fmt"
	"math"
	"math/big"
	"strconv"
	"strings"

	"github.com/fxamacker/cbor/v2"

	"lentic/collector/aquarium"
)

// The labels of RFC 8428, section 6, table 4.
var cborLabels = map[int64]string{
	-1: "bver", -2: "bn", -3: "bt", -4: "bu", -5: "bv", -6: "bs",
	0: "n", 1: "u", 2: "v", 3: "vs", 4: "vb", 5: "s", 6: "t", 7: "ut", 8: "vd",
}

// decimalFraction is the tag of 10^e x m (RFC 8949, section 3.4.4).
const decimalFraction = 4

// cborMode bounds what a stranger's bytes may make us do. A record is flat: a
// decimal fraction is the deepest thing in it.
var cborMode = func() cbor.DecMode {
	m, err := cbor.DecOptions{
		DupMapKey:        cbor.DupMapKeyEnforcedAPF,
		MaxNestedLevels:  8,
		MaxArrayElements: 2 * MaxPayload,
		MaxMapPairs:      1024,
	}.DecMode()
	if err != nil {
		panic("cbor options: " + err.Error()) // constants, so never
	}
	return m
}()

// cborFields reads a pack in CBOR (RFC 8428, section 6).
func cborFields(payload []byte) ([]fields, *refusal) {
	var raws []cbor.RawMessage
	if err := cborMode.Unmarshal(bytes.TrimPrefix(payload, selfDescribed), &raws); err != nil {
		return nil, refuse(aquarium.ReasonSyntax, "not a SenML pack in CBOR: %v", err)
	}
	if len(raws) > MaxRecords {
		return nil, tooMany(len(raws))
	}
	fs := make([]fields, len(raws))
	for i, raw := range raws {
		fs[i] = cborRecord(raw)
	}
	return fs, nil
}

func cborRecord(raw cbor.RawMessage) fields {
	f := fields{raw: raw}
	var m map[any]cbor.RawMessage
	if err := cborMode.Unmarshal(raw, &m); err != nil || m == nil {
		f.own = refuse(aquarium.ReasonSyntax, "the record is not a CBOR map of SenML labels")
		return f
	}
	for key, value := range m {
		switch k := key.(type) {
		case int64:
			f.setCBOR(cborLabels[k], value)
		case uint64:
			if k <= 8 {
				f.setCBOR(cborLabels[int64(k)], value)
			}
		case string:
			// Labels with a number are to be sent as that number; a
			// name is an extension's, and one ending in _ must be
			// understood.
			if strings.HasSuffix(k, "_") {
				f.must = k
			}
		}
	}
	return f
}

func (f *fields) setCBOR(label string, raw cbor.RawMessage) {
	num := func(to **float64, bad **refusal) {
		v, err := cborNumber(raw)
		if err != nil {
			if *bad == nil {
				*bad = refuse(aquarium.ReasonKind, "%s %v", label, err)
			}
			return
		}
		*to = &v
	}
	str := func(to **string, bad **refusal) {
		var v string
		if len(raw) == 0 || raw[0]>>5 != 3 || cborMode.Unmarshal(raw, &v) != nil {
			if *bad == nil {
				*bad = refuse(aquarium.ReasonKind, "%s is no text", label)
			}
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
		var v bool
		if len(raw) != 1 || raw[0]>>1 != 0xf4>>1 || cborMode.Unmarshal(raw, &v) != nil {
			if f.own == nil {
				f.own = refuse(aquarium.ReasonKind, "vb is neither true nor false")
			}
			return
		}
		f.vb = &v
	case "vs":
		f.vs = true
	case "vd":
		f.vd = true
	}
}

// cborNumber reads an integer, a float of any width or a decimal fraction.
func cborNumber(raw cbor.RawMessage) (float64, error) {
	var v any
	if err := cborMode.Unmarshal(raw, &v); err != nil {
		return 0, fmt.Errorf("is not readable: %w", err)
	}
	switch n := v.(type) {
	case int64:
		return float64(n), nil
	case uint64:
		return float64(n), nil
	case float64:
		return n, nil
	case float32:
		return float64(n), nil
	case big.Int:
		f, _ := new(big.Float).SetInt(&n).Float64()
		return f, nil
	case cbor.Tag:
		return fraction(n)
	}
	return 0, fmt.Errorf("is no number")
}

func fraction(tag cbor.Tag) (float64, error) {
	parts, ok := tag.Content.([]any)
	if tag.Number != decimalFraction || !ok || len(parts) != 2 {
		return 0, fmt.Errorf("has tag %d: want a number or a decimal fraction", tag.Number)
	}
	mantissa, ok1 := integer(parts[1])
	exponent, ok2 := integer(parts[0])
	// The largest double is near 1e308, the smallest near 1e-324; a
	// mantissa of 64 bits has 20 digits.
	e, err := strconv.Atoi(exponent)
	if !ok1 || !ok2 || err != nil || e > 400 || e < -400 {
		return 0, fmt.Errorf("is no decimal fraction of two integers")
	}
	v, err := strconv.ParseFloat(mantissa+"e"+exponent, 64)
	if err != nil && !math.IsInf(v, 0) {
		return 0, fmt.Errorf("is no decimal fraction: %w", err)
	}
	return v, nil
}

func integer(v any) (string, bool) {
	switch n := v.(type) {
	case int64:
		return strconv.FormatInt(n, 10), true
	case uint64:
		return strconv.FormatUint(n, 10), true
	}
	return "", false
}
