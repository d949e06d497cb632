package wire

import (
	"bytes"
	"fmt"
	"math"
	"math/big"
	"strconv"
	"unicode/utf8"

	"github.com/fxamacker/cbor/v2"

	"lentic/collector/aquarium"
)

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

// Packs in CBOR (RFC 8428, section 6). The library judges all of it first; the
// rest finds its way through CBOR that is well formed.

func cborRecords(payload []byte, into [][]byte) ([][]byte, *refusal) {
	payload = bytes.TrimPrefix(payload, selfDescribed)
	if err := cborMode.Wellformed(payload); err != nil {
		return nil, refuse(aquarium.ReasonSyntax, "not a SenML pack in CBOR: %v", err)
	}
	if cborMajor(payload) != majorArray {
		return nil, refuse(aquarium.ReasonSyntax, "not a SenML pack in CBOR: want an array of records")
	}
	for record := range cborItems(payload) {
		into = append(into, record)
	}
	return into, nil
}

func cborMembers(record []byte, to *members) *refusal {
	noMap := func() *refusal {
		return refuse(aquarium.ReasonSyntax, "the record is not a CBOR map of SenML labels")
	}
	for cborMajor(record) == majorTag {
		record = record[cborHeadOf(record).size:]
	}
	if cborMajor(record) != majorMap {
		return noMap()
	}
	var key []byte
	for item := range cborItems(record) {
		if key == nil {
			key = item
			continue
		}
		if l, ok := cborLabel(key); ok {
			if to.raw[l] != nil {
				return noMap() // which of the two is meant?
			}
			to.raw[l] = item
		} else if cborMajor(key) == majorText {
			// Labels with a number are to be sent as that number; a
			// name is an extension's, and one ending in _ must be
			// understood.
			name, why := cborText(key)
			if why != nil {
				return noMap()
			}
			if bytes.HasSuffix(name, []byte("_")) {
				to.must = string(name)
			}
		}
		key = nil
	}
	return nil
}

func cborLabel(key []byte) (label, bool) {
	h := cborHeadOf(key)
	switch {
	case h.major == majorUnsigned && h.n <= uint64(labelVD-labelN):
		return labelN + label(h.n), true
	case h.major == majorNegative && h.n < uint64(labelN):
		return labelN - 1 - label(h.n), true
	}
	return 0, false
}

func cborNumber(raw []byte) (float64, *refusal) {
	h := cborHeadOf(raw)
	switch {
	case h.major == majorUnsigned:
		return float64(h.n), nil
	case h.major == majorNegative && h.n <= math.MaxInt64:
		return float64(-1 - int64(h.n)), nil
	case h.major == majorSimple && h.size == 5:
		return float64(math.Float32frombits(uint32(h.n))), nil
	case h.major == majorSimple && h.size == 9:
		return math.Float64frombits(h.n), nil
	}
	v, err := cborAny(raw)
	if err != nil {
		return 0, refuse(aquarium.ReasonKind, "%v", err)
	}
	return v, nil
}

func cborText(raw []byte) ([]byte, *refusal) {
	h := cborHeadOf(raw)
	if text := raw[h.size:]; h.major == majorText && !h.open && utf8.Valid(text) {
		return text, nil
	}
	var s string
	if h.major != majorText || cborMode.Unmarshal(raw, &s) != nil {
		return nil, refuse(aquarium.ReasonKind, "is no text")
	}
	return []byte(s), nil
}

func cborBoolean(raw []byte) (bool, *refusal) {
	if raw[0]>>1 != 0xf4>>1 {
		return false, refuse(aquarium.ReasonKind, "is neither true nor false")
	}
	return raw[0] == 0xf5, nil
}

// cborAny reads what is left: halves, large integers and decimal fractions.
func cborAny(raw []byte) (float64, error) {
	var v any
	if err := cborMode.Unmarshal(raw, &v); err != nil {
		return 0, fmt.Errorf("is not readable: %w", err)
	}
	switch n := v.(type) {
	case float64:
		return n, nil
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
