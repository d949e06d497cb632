package wire

import (
	"bytes"
	"encoding/json"
	"errors"
	"iter"
	"strconv"
	"strings"
	"unicode/utf8"

	"lentic/collector/aquarium"
)

// Packs in JSON (RFC 8428, section 5). The library judges all of it first; the
// rest finds its way through JSON that is known to be valid.

func jsonRecords(payload []byte, into [][]byte) ([][]byte, *refusal) {
	pack := bytes.TrimLeft(payload, " \t\r\n")
	if !json.Valid(pack) || pack[0] != '[' {
		var other []json.RawMessage
		if err := json.Unmarshal(payload, &other); err != nil {
			return nil, badJSON(payload, err)
		}
		return nil, nil // null, a pack of nothing
	}
	for record := range elements(pack) {
		into = append(into, record)
	}
	return into, nil
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

// jsonMembers keeps the last of several with one name, as the library does.
func jsonMembers(record []byte, to *members) *refusal {
	if record[0] != '{' {
		return refuse(aquarium.ReasonSyntax, "the record is not a JSON object")
	}
	var name []byte
	isName := true
	for part := range elements(record) {
		if isName {
			name, _ = jsonText(part)
		} else if l, ok := labelOf[string(name)]; ok {
			to.raw[l] = part
		} else if bytes.HasSuffix(name, []byte("_")) {
			to.must = string(name)
		}
		isName = !isName
	}
	return nil
}

func jsonNumber(raw []byte) (float64, *refusal) {
	if raw[0] != '-' && (raw[0] < '0' || raw[0] > '9') {
		return 0, wrong(raw, "a number")
	}
	v, err := strconv.ParseFloat(string(raw), 64)
	if err != nil { // the syntax is JSON's, so that this is the range
		return 0, refuse(aquarium.ReasonValue, "is too large for a number")
	}
	return v, nil
}

func jsonText(raw []byte) ([]byte, *refusal) {
	if raw[0] != '"' {
		return nil, wrong(raw, "a string")
	}
	text := raw[1 : len(raw)-1]
	if bytes.IndexByte(text, '\\') < 0 && utf8.Valid(text) {
		return text, nil
	}
	var s string
	if err := json.Unmarshal(raw, &s); err != nil {
		return nil, wrong(raw, "a string")
	}
	return []byte(s), nil
}

func jsonBoolean(raw []byte) (bool, *refusal) {
	if raw[0] != 't' && raw[0] != 'f' {
		return false, wrong(raw, "true or false")
	}
	return raw[0] == 't', nil
}

func wrong(raw []byte, want string) *refusal {
	return refuse(aquarium.ReasonKind, "is %s: want %s", cut(string(raw)), want)
}

// elements are the elements of a valid JSON array, or the names and values of
// an object in turn.
func elements(whole []byte) iter.Seq[[]byte] {
	return func(yield func([]byte) bool) {
		for i := 1; ; {
			switch whole[i] {
			case ' ', '\t', '\r', '\n', ',', ':':
				i++
			case ']', '}':
				return
			default:
				end := i + extent(whole[i:])
				if !yield(whole[i:end]) {
					return
				}
				i = end
			}
		}
	}
}

// extent is the length of the value that b begins with; something follows it.
func extent(b []byte) int {
	depth := 0
	for i := 0; ; i++ {
		switch b[i] {
		case '"':
			i = closing(b, i)
			if depth == 0 {
				return i + 1
			}
		case '[', '{':
			depth++
		case ']', '}':
			if depth--; depth <= 0 {
				return i + 1 + depth // the bracket after a number is not its own
			}
		case ' ', '\t', '\r', '\n', ',', ':':
			if depth == 0 {
				return i
			}
		}
	}
}

// closing is where the string that begins at b[i] ends.
func closing(b []byte, i int) int {
	for i++; b[i] != '"'; i++ {
		if b[i] == '\\' {
			i++
		}
	}
	return i
}
