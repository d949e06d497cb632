package wire

import (
	"bytes"
	"encoding/json"
	"io"
	"strconv"
	"strings"
	"time"

	"lentic/collector/aquarium"
)

// CheckPointer reports why p is no JSON pointer (RFC 6901), or nil. The empty
// pointer means the whole document.
func CheckPointer(p string) error {
	if why := checkPointer(p); why != nil {
		return why
	}
	return nil
}

func checkPointer(p string) *refusal {
	if p != "" && p[0] != '/' {
		return refuse(aquarium.ReasonPointer, "pointer %q: want it to begin with /", cut(p))
	}
	for i := 0; i < len(p); i++ {
		if p[i] == '~' && (i+1 == len(p) || p[i+1] != '0' && p[i+1] != '1') {
			return refuse(aquarium.ReasonPointer, "pointer %q: ~ is written ~0, and / inside a name ~1", cut(p))
		}
	}
	return nil
}

// document reads any JSON, with its numbers as they were written.
func document(payload []byte) (any, *refusal) {
	dec := json.NewDecoder(bytes.NewReader(payload))
	dec.UseNumber()
	var doc any
	if err := dec.Decode(&doc); err != nil {
		if err == io.EOF || err == io.ErrUnexpectedEOF {
			return nil, refuse(aquarium.ReasonSyntax, "the JSON ends early")
		}
		return nil, badJSON(payload, err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return nil, refuse(aquarium.ReasonSyntax, "more follows the JSON: send one document a message")
	}
	return doc, nil
}

// find is what the pointer points at.
func find(doc any, pointer string) (any, *refusal) {
	if why := checkPointer(pointer); why != nil {
		return nil, why
	}
	if pointer == "" {
		return doc, nil
	}
	for token := range strings.SplitSeq(pointer[1:], "/") {
		token = strings.ReplaceAll(strings.ReplaceAll(token, "~1", "/"), "~0", "~")
		next, ok := child(doc, token)
		if !ok {
			return nil, refuse(aquarium.ReasonPointer, "pointer %q finds nothing: no %q there", cut(pointer), cut(token))
		}
		doc = next
	}
	return doc, nil
}

func child(doc any, token string) (any, bool) {
	switch d := doc.(type) {
	case map[string]any:
		v, ok := d[token]
		return v, ok
	case []any:
		i, err := strconv.Atoi(token)
		if err != nil || i < 0 || i >= len(d) || token != strconv.Itoa(i) {
			return nil, false
		}
		return d[i], true
	}
	return nil, false
}

// pointedNumber is a value found by a pointer. Devices that write their numbers
// as text are common, so that is taken; true and false are for switches.
func pointedNumber(v any, s *sensor) (float64, *refusal) {
	switch n := v.(type) {
	case json.Number:
		return number(n.String())
	case string:
		return number(n)
	case bool:
		if s.Quantity != aquarium.Switch {
			return 0, refuse(aquarium.ReasonKind, "pointer %q finds %v: want a number for %s", cut(s.Pointer), n, s.Quantity)
		}
		if n {
			return 1, nil
		}
		return 0, nil
	case nil:
		return 0, refuse(aquarium.ReasonValue, "pointer %q finds null: want a number", cut(s.Pointer))
	}
	return 0, refuse(aquarium.ReasonPointer, "pointer %q finds no number", cut(s.Pointer))
}

// pointedTime is a time found by a pointer, in Unix seconds. It is always
// absolute: only SenML has times that count from now.
func pointedTime(v any, unit aquarium.TimeUnit) (float64, *refusal) {
	if unit == aquarium.RFC3339 {
		text, _ := v.(string)
		t, err := time.Parse(time.RFC3339, text)
		if err != nil {
			return 0, refuse(aquarium.ReasonPointer, "the time %q is not RFC 3339, as 2031-03-02T02:14:30Z", cut(text))
		}
		return float64(t.UnixMilli()) / 1000, nil
	}
	var text string
	switch n := v.(type) {
	case json.Number:
		text = n.String()
	case string:
		text = n
	}
	sec, why := number(text)
	if why != nil {
		return 0, refuse(aquarium.ReasonPointer, "the time %q is no number of %s", cut(text), unit)
	}
	if unit == aquarium.Milliseconds {
		sec /= 1000
	}
	return sec, nil
}
