package channel

import (
	"cmp"
	"encoding/base64"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"unicode"
)

// secrets are words that must not be quoted. Very short ones are left: cutting
// every "1" out of an answer hides nothing and makes it unreadable.
type secrets []string

const shortestSecret = 5

// and adds words; the longest are cut first, whatever holds another whole.
func (s secrets) and(words ...string) secrets {
	all := append(slices.Clone(s), words...)
	all = slices.DeleteFunc(all, func(w string) bool { return len(w) < shortestSecret })
	slices.SortFunc(all, func(a, b string) int { return cmp.Or(len(b)-len(a), cmp.Compare(a, b)) })
	return slices.Compact(all)
}

// forms are the words as an answer may give them back: as they stand, escaped
// for an address, and in JSON.
func forms(words []string) secrets {
	var all secrets
	for _, w := range words {
		all = append(all, w, url.QueryEscape(w), url.PathEscape(w))
		if quoted, err := asJSON(w); err == nil {
			all = append(all, strings.Trim(quoted, `"`))
		}
	}
	return all.and()
}

// constant is what two requests for different messages have in common and a
// provider could echo: the headers' values, the address's user and password,
// and the parts of its path and query.
func constant(a, b *http.Request) (words []string) {
	for k, vs := range a.Header {
		if k == "Content-Type" {
			continue
		}
		for _, v := range vs {
			_, token, _ := strings.Cut(v, " ") // Bearer, Basic
			words = append(words, v, token)
		}
	}
	if u := a.URL.User; u != nil {
		password, _ := u.Password()
		words = append(words, u.Username(), password,
			base64.StdEncoding.EncodeToString([]byte(u.Username()+":"+password))) // as it is sent
	}
	others := strings.Split(b.URL.Path, "/")
	for i, part := range strings.Split(a.URL.Path, "/") {
		if i < len(others) && part == others[i] && len(part) >= longPart {
			words = append(words, part)
		}
	}
	q := b.URL.Query()
	for k, vs := range a.URL.Query() {
		for i, v := range vs {
			if i < len(q[k]) && v == q[k][i] {
				words = append(words, v)
			}
		}
	}
	return words
}

// longPart is the length from which on a part of a path may be a token and no
// word.
const longPart = 16

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
