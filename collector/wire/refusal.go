package wire

import (
	"fmt"
	"unicode/utf8"

	"lentic/collector/aquarium"
)

// refusal is why something was not taken. It is an error so that the parsers
// below can return it, and carries the bytes of the one record it is about.
type refusal struct {
	reason  aquarium.Reason
	detail  string
	payload []byte // nil: the whole message
}

func (r *refusal) Error() string { return r.detail }

func refuse(reason aquarium.Reason, format string, args ...any) *refusal {
	return &refusal{reason: reason, detail: fmt.Sprintf(format, args...)}
}

// about says which bytes the refusal concerns.
func (r *refusal) about(payload []byte) *refusal {
	r.payload = payload
	return r
}

// cut shortens what a stranger sent before it is quoted in a sentence.
func cut(s string) string {
	const most = 40
	if len(s) <= most {
		return s
	}
	s = s[:most]
	for len(s) > 0 {
		if r, size := utf8.DecodeLastRuneInString(s); r != utf8.RuneError || size > 1 {
			break
		}
		s = s[:len(s)-1]
	}
	return s + "..."
}
