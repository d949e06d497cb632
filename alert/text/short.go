package text

import (
	"cmp"
	"slices"
	"strings"
	"unicode"

	"lentic/collector/aquarium"
)

// Shorten gives every site the name that a text calls it by where the whole has
// no room (Site.Short): the fewest of its words that none of the others has
// too. It is the same in every text, so that people learn it. Two of the same
// name get none.
func Shorten(sites []aquarium.Site) {
	names := make([]string, len(sites))
	for i, s := range sites {
		names[i] = readable(s.Name, string(s.ID))
	}
	for i, short := range shorts(names) {
		sites[i].Short = short
	}
}

// shortTank is likewise what a text calls a tank, among those of its site.
func shortTank(s aquarium.Site, id aquarium.TankID) string {
	names, at := make([]string, len(s.Tanks)), -1
	for i, t := range s.Tanks {
		names[i] = readable(t.Name, string(t.ID))
		if t.ID == id {
			at = i
		}
	}
	if at < 0 {
		return ""
	}
	return shorts(names)[at]
}

// shortest and longestShort bound a short name, in septets: below, it tells
// nothing; above, it saves nothing. By eye, no source.
const (
	shortest     = 3
	longestShort = 12
)

// kinds of place and the words between tell one place from another least,
// however few of the kind there are today. By eye, no source.
var kinds = map[string]bool{
	"hotel": true, "inn": true, "library": true, "clinic": true, "hospital": true, "surgery": true, "practice": true,
	"physiotherapy": true, "physio": true, "dental": true, "medical": true, "health": true, "centre": true, "center": true,
	"restaurant": true, "cafe": true, "café": true, "bar": true, "museum": true, "school": true, "college": true, "university": true,
	"bank": true, "office": true, "offices": true, "house": true, "hall": true, "building": true, "spa": true,
	"tank": true, "aquarium": true, "display": true,
	"the": true, "of": true, "at": true, "in": true, "and": true, "for": true, "st": true, "saint": true,
}

// word is where a word stands in a name.
type word struct {
	from, to int
	low      string
}

func wordsIn(name string) (ws []word) {
	for i, r := range name {
		in := unicode.IsLetter(r) || unicode.IsDigit(r) || r == '\'' || r == '&'
		switch {
		case in && (len(ws) == 0 || ws[len(ws)-1].to < i):
			ws = append(ws, word{from: i, to: i + len(string(r))})
		case in:
			ws[len(ws)-1].to = i + len(string(r))
		}
	}
	for k := range ws {
		ws[k].low = strings.ToLower(name[ws[k].from:ws[k].to])
	}
	return ws
}

// shorts are the short names of things that are to be told from one another;
// "" for one that cannot be.
func shorts(names []string) []string {
	all := make([][]word, len(names))
	for i, n := range names {
		all[i] = wordsIn(n)
	}
	out := make([]string, len(names))
	for i := range names {
		out[i] = short(names[i], all[i], slices.Concat(all[:i], all[i+1:]))
	}
	return out
}

// short is the run of words that none of the others has: of few words before
// many, the first of them, and one that is short enough before any.
func short(name string, ws []word, others [][]word) string {
	best := ""
	for n := 1; n <= len(ws); n++ {
		for a := 0; a+n <= len(ws); a++ {
			run := ws[a : a+n]
			text := name[run[0].from:run[n-1].to]
			if size(text) < shortest || !tells(run, ws) || slices.ContainsFunc(others, has(run)) {
				continue
			}
			if size(text) <= longestShort {
				return upper(text)
			}
			if best == "" {
				best = upper(text)
			}
		}
	}
	return best
}

// tells reports whether a run has a word that is no mere kind, where the name
// has one at all; a number alone tells nothing either.
func tells(run, whole []word) bool {
	letters := func(w word) bool { return strings.IndexFunc(w.low, unicode.IsLetter) >= 0 }
	telling := func(w word) bool { return !kinds[w.low] }
	return slices.ContainsFunc(run, letters) &&
		(slices.ContainsFunc(run, telling) || !slices.ContainsFunc(whole, telling))
}

// has reports whether a name has the words of run, one after another.
func has(run []word) func(name []word) bool {
	return func(name []word) bool {
		for a := 0; a+len(run) <= len(name); a++ {
			if slices.CompareFunc(name[a:a+len(run)], run, func(x, y word) int { return cmp.Compare(x.low, y.low) }) == 0 {
				return true
			}
		}
		return false
	}
}
