package text

import (
	"strings"

	"lentic/collector/aquarium"
)

// leastName is what a name is cut to at the least, in septets: a place must stay
// recognisable to somebody who knows it. Judged by eye, no source.
const leastName = longestShort

// parts is a message before it is made to fit.
type parts struct {
	tank, site name     // either may be empty
	what       string   // with the kind's word
	proof      []string // the number itself first
	trend      string
	act        string
}

func (p parts) place() string {
	if p.tank.text != "" && p.site.text != "" {
		return p.tank.text + ", " + p.site.text
	}
	return p.tank.text + p.site.text
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

// name is a site's or tank's as a telephone can show it, and the short one to
// fall back on.
type name struct{ text, short string }

// names are the tank's and the site's. One of which nothing is left in the
// alphabet gives way to the id.
func names(a aquarium.Alarm, s aquarium.Site) (tank, site name) {
	if a.Site == "" {
		return name{}, called("lentic", "")
	}
	whole := readable(s.Name, string(a.Site))
	if s.Short == "" {
		s.Short = shorts([]string{whole})[0]
	}
	site = called(whole, s.Short)
	if a.Tank == "" {
		return name{}, site
	}
	full := ""
	if t := s.Tank(a.Tank); t != nil {
		full = t.Name
	}
	return called(readable(full, string(a.Tank)), shortTank(s, a.Tank)), site
}

// Place is how a text names a tank (empty: its whole site), and how where there
// is no room for that.
func Place(s aquarium.Site, t aquarium.TankID) (whole, short string) {
	var p parts
	p.tank, p.site = names(aquarium.Alarm{Identity: aquarium.Identity{Site: s.ID, Tank: t}}, s)
	whole = p.place()
	p.tank.text, p.site.text = p.tank.short, p.site.short
	return whole, p.place()
}

// called is a name with the short one, where there is one and it is shorter.
func called(whole, short string) name {
	if short == "" || size(short) > size(whole) {
		short = whole
	}
	return name{whole, short}
}

// shortened is the name cut by so many septets if need be, to the least at the
// most.
func (n name) shortened(over int) name {
	whole := size(n.text)
	n.text = shorten(n.text, max(min(leastName, whole), whole-max(0, over)))
	return n
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
// had behind the link: first parts of names, down to what is still recognised; then what only explains the number, the trend, and the act. The
// link, which lets the alarm be answered, goes last and never in part.
func fit(p parts, link string) string {
	m, _, _ := fitted(p, link)
	return m
}

func fitted(p parts, link string) (message string, cut int, dropped string) {
	whole := size(p.tank.text) + size(p.site.text)
	if !valid(link) {
		link, dropped = "", "link"
	}
	for {
		q := cutNames(p, link)
		m := q.text(link)
		if size(m) <= Limit {
			return m, whole - size(q.tank.text) - size(q.site.text), dropped
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
// first, then the tank's, each for its short one; only then are ends cut off.
func cutNames(p parts, link string) parts {
	over := func() int { return size(p.text(link)) - Limit }
	if over() > 0 {
		p.site.text = p.site.short
	}
	if over() > 0 {
		p.tank.text = p.tank.short
	}
	p.site = p.site.shortened(over())
	p.tank = p.tank.shortened(over())
	return p
}

func size(s string) int { n, _ := Septets(s); return n }
