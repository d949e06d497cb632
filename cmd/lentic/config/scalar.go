package config

import (
	"net/mail"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	_ "time/tzdata" // so that zones are known on machines that have no data base of them

	"lentic/collector/aquarium"
)

// text is a scalar as written. Anything else is a mistake and "".
func (r *reader) text(n *node) (string, bool) {
	if n.kind != scalar {
		r.bad(n, "%s: want a text", n.describe())
		return "", false
	}
	return n.text, true
}

// line is a text of one line with something in it.
func (r *reader) line(n *node) string {
	s, ok := r.text(n)
	switch {
	case !ok:
	case strings.TrimSpace(s) == "":
		r.bad(n, "is empty: give it a value, or leave the key out")
	case len(s) > 1000:
		r.bad(n, "has %d bytes: at most 1000 are allowed", len(s))
	}
	return strings.TrimSpace(s)
}

// id is an id; a bad one is "".
func (r *reader) id(n *node) string {
	s, ok := r.text(n)
	if !ok {
		return ""
	}
	if err := aquarium.CheckID(s); err != nil {
		r.bad(n, "%v", err)
		return ""
	}
	return s
}

var decimal = regexp.MustCompile(`^[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?$`)

// number is a number from lo to hi; what it means is said in the message.
func (r *reader) number(n *node, lo, hi float64, what string) float64 {
	if n.kind != scalar || !decimal.MatchString(n.text) {
		r.bad(n, "%s is no number: want %s from %s to %s", n.describe(), what, digits(lo), digits(hi))
		return 0
	}
	v, err := strconv.ParseFloat(n.text, 64)
	if err != nil || v < lo || v > hi {
		r.bad(n, "%s is out of range: want %s from %s to %s", n.text, what, digits(lo), digits(hi))
		return 0
	}
	return v
}

func digits(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func (r *reader) boolean(n *node) bool {
	return r.oneOf(n, "true", "false") == "true"
}

// oneOf is one of the words, or "".
func (r *reader) oneOf(n *node, words ...string) string {
	s, ok := r.text(n)
	if !ok {
		return ""
	}
	if !slices.Contains(words, s) {
		r.bad(n, "%s is unknown%s", short(s), meant(s, words))
		return ""
	}
	return s
}

var lengths = regexp.MustCompile(`^(\d+(\.\d+)?(h|m|s|d))+$`)

// duration is a length of time as "90s", "10m", "2h30m" or "1d".
func (r *reader) duration(n *node, lo, hi time.Duration) time.Duration {
	s, ok := r.text(n)
	if !ok {
		return 0
	}
	d, ok := parseDuration(s)
	if !ok {
		r.bad(n, "%s is no length of time: want one as 30s, 10m, 2h or 1d", short(s))
		return 0
	}
	if d < lo || d > hi {
		r.bad(n, "%s is out of range: want %s to %s", s, plainly(lo), plainly(hi))
		return 0
	}
	return d
}

func parseDuration(s string) (time.Duration, bool) {
	if !lengths.MatchString(s) {
		return 0, false
	}
	if days, rest, ok := strings.Cut(s, "d"); ok {
		v, err := strconv.ParseFloat(days, 64)
		if err != nil || v > 3650 {
			return 0, false
		}
		d := time.Duration(v * 24 * float64(time.Hour))
		if rest == "" {
			return d, true
		}
		more, ok := parseDuration(rest)
		return d + more, ok
	}
	d, err := time.ParseDuration(s)
	return d, err == nil
}

// plainly writes a length of time the way it is typed.
func plainly(d time.Duration) string {
	s := d.String()
	s = strings.TrimSuffix(s, "0s")
	if strings.HasSuffix(s, "h0m") {
		s = strings.TrimSuffix(s, "0m")
	}
	if s == "" {
		return "0s"
	}
	return s
}

func (r *reader) clock(n *node) aquarium.Clock {
	s, ok := r.text(n)
	if !ok {
		return 0
	}
	c, err := aquarium.ParseClock(s)
	if err != nil {
		r.bad(n, "%v", err)
	}
	return c
}

// span is a stretch of the day as "22:00-07:00".
func (r *reader) span(n *node) *aquarium.Span {
	s, ok := r.text(n)
	if !ok {
		return nil
	}
	sp, err := parseSpan(s)
	if err != nil {
		r.bad(n, "%v", err)
		return nil
	}
	if sp.From == sp.To {
		r.bad(n, "%s begins and ends at the same time: want two times of day", short(s))
		return nil
	}
	return &sp
}

// date is a day's midnight in a zone.
func (r *reader) date(n *node, zone *time.Location) time.Time {
	s, _ := r.text(n)
	t, err := time.ParseInLocation(time.DateOnly, s, zone)
	if err != nil {
		r.bad(n, "%s is no date: want one as 2031-02-10", n.describe())
	}
	return t
}

// zone is a time zone by its name in the IANA data base.
func (r *reader) zone(n *node) *time.Location {
	s, ok := r.text(n)
	if !ok {
		return nil
	}
	l, err := time.LoadLocation(s)
	if err != nil || s == "" || s == "Local" {
		r.bad(n, "time zone %s is unknown: want a name of the IANA data base, as Europe/London", short(s))
		return nil
	}
	return l
}

// E.164: at most 15 digits, the country code's one to three included (ITU-T
// E.164, 6.2.1). Fewer than seven reach nobody: common practice, no source.
var e164 = regexp.MustCompile(`^\+[1-9]\d{6,14}$`)

func (r *reader) phone(n *node) string {
	s, ok := r.text(n)
	if ok && !e164.MatchString(s) {
		r.bad(n, "no phone number as it is dialled abroad: want it with plus, country code and digits only, as +447700900101")
		return ""
	}
	return s
}

func (r *reader) email(n *node) string {
	s, ok := r.text(n)
	if !ok {
		return ""
	}
	if a, err := mail.ParseAddress(s); err != nil || a.Address != s {
		r.bad(n, "%s is no mail address: want one as keeper@example.net", short(s))
		return ""
	}
	return s
}
