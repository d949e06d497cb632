package wire

import (
	"bytes"
	"math"
	"strconv"
	"strings"

	"lentic/collector/aquarium"
)

// number reads a bare decimal number, as `6.58` or `-1.2e3`.
func number(text string) (float64, *refusal) {
	text = strings.Trim(text, " \t\r\n")
	if text == "" {
		return 0, refuse(aquarium.ReasonSyntax, "the payload is empty: send a number as 6.58, or a SenML pack")
	}
	for i := 0; i < len(text); i++ {
		if c := text[i]; (c < '0' || c > '9') && !strings.ContainsRune("+-.eE", rune(c)) {
			return 0, notNumber(text)
		}
	}
	v, err := strconv.ParseFloat(text, 64)
	if math.IsInf(v, 0) {
		return 0, refuse(aquarium.ReasonValue, "%s is too large for a number", cut(text))
	}
	if err != nil {
		return 0, notNumber(text)
	}
	return v, nil
}

func notNumber(text string) *refusal {
	switch strings.ToLower(strings.TrimLeft(text, "+-")) {
	case "nan", "inf", "infinity", "null":
		return refuse(aquarium.ReasonValue, "%s is no value: send nothing when there is none", cut(text))
	case "true", "false", "on", "off", "open", "closed":
		return refuse(aquarium.ReasonSyntax, "%s is no number: send 1 or 0, or SenML with vb", cut(text))
	}
	if strings.Count(text, ",") == 1 && strings.Trim(text, "0123456789,+-") == "" {
		return refuse(aquarium.ReasonSyntax, "%s has a comma: write %s", cut(text), cut(strings.Replace(text, ",", ".", 1)))
	}
	return refuse(aquarium.ReasonSyntax, "%q is neither a number nor a SenML pack", cut(text))
}

// form is how a payload is written.
type form int

const (
	bare form = iota
	jsonPack
	cborPack
	jsonOther
)

// selfDescribed is the tag that marks CBOR as such (RFC 8949, section 3.4.6).
var selfDescribed = []byte{0xd9, 0xd9, 0xf7}

// formOf tells by the first byte: a JSON array begins with [, a CBOR array has
// major type 4, and no text begins with such a byte.
func formOf(payload []byte) form {
	p := bytes.TrimLeft(payload, " \t\r\n")
	switch {
	case len(p) == 0:
		return bare
	case p[0] == '[':
		return jsonPack
	case p[0] == '{':
		return jsonOther
	case payload[0] >= 0x80 && payload[0] <= 0x9f, bytes.HasPrefix(payload, selfDescribed):
		return cborPack
	}
	return bare
}
