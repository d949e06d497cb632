package text

import (
	"strings"

	"lentic/collector/aquarium"
)

// Names are cut no shorter than this, in septets: a tank must stay
// recognisable to somebody who knows the place. Judged by eye, no source.
const leastTank = 12

// leastSite keeps a site's first word where that is no longer than twelve
// septets, else eight of it.
func leastSite(name string) int {
	first, _, _ := strings.Cut(name, " ")
	if n := size(first); n >= 4 && n <= 12 {
		return n
	}
	return 8
}

// parts is a message before it is made to fit.
type parts struct {
	tank, site string   // either may be empty
	what       string   // with the kind's word
	proof      []string // the number itself first
	trend      string
	act        string
}

func (p parts) place() string {
	if p.tank != "" && p.site != "" {
		return p.tank + ", " + p.site
	}
	return p.tank + p.site
}

func (p parts) text(link string) string {
	t := p.place() + ": " + sentence(p.what, p.evidence())
	if p.act != "" {
		t += " " + p.act
	}
	if link != "" {
		t += " " + link
	}
	return t
}

// evidence is the number, its trend, and what gives it meaning.
func (p parts) evidence() []string {
	if len(p.proof) == 0 {
		return nil
	}
	return some(append([]string{p.proof[0], p.trend}, p.proof[1:]...)...)
}

// compose puts the parts of a message together, with the names whole.
func compose(k Kind, a aquarium.Alarm, s aquarium.Site) parts {
	w := wordingOf(a, s)
	p := parts{proof: w.Proof, trend: w.Trend, act: w.Act}
	p.tank, p.site = names(a, s)
	p.what = w.What
	switch k {
	case AllClear:
		p.what, p.proof, p.trend, p.act = "all clear"+lasted(a)+", was: "+w.What, nil, "", ""
	case Worse:
		p.what = "worse: " + w.What
	case Renamed:
		p.what = "now: " + w.What
	case Again:
		p.what = "no answer yet: " + w.What
	case StillStanding:
		p.what = "still: " + w.What
	}
	return p
}

// lasted is how long an alarm that is over stood.
func lasted(a aquarium.Alarm) string {
	if a.Returned <= a.Since || a.Since == 0 {
		return ""
	}
	return " after " + Span(a.Returned.Sub(a.Since))
}

// names are the tank's and the site's as a telephone can show them. A name of
// which nothing is left in the alphabet gives way to the id.
func names(a aquarium.Alarm, s aquarium.Site) (tank, site string) {
	if a.Site == "" {
		return "", "lentic"
	}
	site = readable(s.Name, string(a.Site))
	if a.Tank == "" {
		return "", site
	}
	var name string
	if t := s.Tank(a.Tank); t != nil {
		name = t.Name
	}
	return readable(name, string(a.Tank)), site
}

// readable is name in the alphabet, or the id where that leaves no word.
func readable(name, id string) string {
	g := GSM7(name)
	letters := 0
	for _, r := range g {
		if r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z' || r > 0x7f {
			letters++
		}
	}
	if letters < 2 {
		return GSM7(id)
	}
	return g
}

// sentence joins what is wrong and its proof, with full stops.
func sentence(what string, proof []string) string {
	s := upper(what)
	if !strings.HasSuffix(s, "?") {
		s += "."
	}
	if len(proof) > 0 {
		s += " " + upper(strings.Join(proof, ", ")) + "."
	}
	return s
}

// upper begins a sentence; pH stays pH.
func upper(s string) string {
	if s == "" || strings.HasPrefix(s, "pH") || s[0] < 'a' || s[0] > 'z' {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// fit makes the message one that fits, giving up what matters least and can be
// had behind the link: first the ends of names, down to what is still
// recognised; then what only explains the number, the trend, and the act. The
// link, which lets the alarm be answered, goes last and never in part.
func fit(p parts, link string) string {
	m, _, _ := fitted(p, link)
	return m
}

func fitted(p parts, link string) (message string, cut int, dropped string) {
	whole := size(p.tank) + size(p.site)
	if !valid(link) {
		link, dropped = "", "link"
	}
	for {
		q := cutNames(p, link)
		m := q.text(link)
		if size(m) <= Limit {
			return m, whole - size(q.tank) - size(q.site), dropped
		}
		switch {
		case len(p.proof) > 1:
			p.proof, dropped = p.proof[:len(p.proof)-1], "explanation"
		case p.trend != "":
			p.trend, dropped = "", "trend"
		case p.act != "" && size(link) < Limit/2:
			p.act, dropped = "", "act"
		case link != "":
			link, dropped = "", "link"
		default:
			return cutTo(m, Limit), whole, "end"
		}
	}
}

// valid reports whether a link can go into a text as it is.
func valid(link string) bool {
	_, ok := Septets(link)
	return ok && !strings.ContainsAny(link, " \n\r\f")
}

// cutNames gives the names the room that the rest leaves: the site's gives way
// first, then the tank's.
func cutNames(p parts, link string) parts {
	over := size(p.text(link)) - Limit
	if over <= 0 {
		return p
	}
	site := max(min(leastSite(p.site), size(p.site)), size(p.site)-over)
	over -= size(p.site) - site
	tank := max(min(leastTank, size(p.tank)), size(p.tank)-max(0, over))
	p.site, p.tank = shorten(p.site, site), shorten(p.tank, tank)
	return p
}

func size(s string) int { n, _ := Septets(s); return n }
