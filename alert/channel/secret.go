package channel

import (
	"slices"
	"strings"
	"unicode"

	"lentic/collector/aquarium"
)

// secrets are words that must not be quoted. Very short ones are left: cutting
// every "1" out of an answer hides nothing and makes it unreadable.
type secrets []string

const shortestSecret = 5

// secrets gathers what the provider could echo: the headers' values, what was
// named secret, and the person's number.
func (h *HTTP) secrets(to aquarium.Person) secrets {
	s := secrets(slices.Clone(h.o.Secrets))
	for _, v := range h.o.Headers {
		s = append(s, v)
		if _, token, ok := strings.Cut(v, " "); ok { // Bearer, Basic
			s = append(s, token)
		}
	}
	if to.Phone != "" {
		s = append(s, to.Phone, strings.TrimPrefix(to.Phone, "+"))
	}
	s = slices.DeleteFunc(s, func(w string) bool { return len(w) < shortestSecret })
	slices.SortFunc(s, func(a, b string) int { return len(b) - len(a) })
	return s
}

func (s secrets) cut(text string) string {
	for _, w := range s {
		text = strings.ReplaceAll(text, w, "…")
	}
	return text
}

// quote is the beginning of an answer in one line, secrets cut.
func (s secrets) quote(answer []byte) string {
	text := strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s.cut(string(answer)), "?"))
	text = strings.Join(strings.Fields(text), " ")
	if rs := []rune(text); len(rs) > quoteLimit {
		return string(rs[:quoteLimit]) + "…"
	}
	return text
}

// scrubbed is an error whose text has the secrets cut.
type scrubbed struct {
	error
	cut secrets
}

func (e scrubbed) Error() string { return e.cut.cut(e.error.Error()) }
func (e scrubbed) Unwrap() error { return e.error }
