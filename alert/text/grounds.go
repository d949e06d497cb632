package text

import (
	"strings"

	"lentic/collector/aquarium"
)

// Grounds is what an alarm rests on, in short plain sentences: for the page and
// the mail, where there is room, and never for a telephone.
type Grounds struct {
	// At is when it was so: when the alarm was raised, or got worse, or its
	// readings stopped or came back. 0: not known.
	At aquarium.Instant
	// Lines tell the reading and what it should be, where it goes, how long
	// until harm, and the facts; the reading first.
	Lines    []string
	Excluded []Exclusion
	// Facts are those of the evidence that are anybody's business.
	Facts []aquarium.Fact
}

// Exclusion is a lookalike that was ruled out.
type Exclusion struct {
	What    aquarium.Lookalike
	Because string // the number or word that did it; empty: none that has words
	Text    string // as a sentence
}

// GroundsOf tells what an alarm rests on. What is missing, and what has no
// words, is left out; an alarm without evidence has no lines.
func GroundsOf(a aquarium.Alarm, s aquarium.Site) Grounds {
	v := viewOf(a, s)
	g := Grounds{At: judged(&a), Excluded: v.excluded()}
	for _, f := range a.Evidence.Facts {
		if !silentFacts[f.Name] {
			g.Facts = append(g.Facts, f)
		}
	}
	reading, facts := v.facts(v.reading())
	for _, l := range append([]string{reading, v.course(), v.projected(), v.harm()}, facts...) {
		if l != "" {
			g.Lines = append(g.Lines, upper(l)+".")
		}
	}
	if len(g.All()) == 1 && onlyLasts(g.Facts) {
		g.Lines = nil
	}
	return g
}

// onlyLasts reports whether the one fact is how long it has been so, which the
// alarm's sentence says.
func onlyLasts(fs []aquarium.Fact) bool {
	return len(fs) == 1 && (fs[0].Name == "for" || fs[0].Name == "silent")
}

// All are the lines with what was ruled out after them.
func (g Grounds) All() []string {
	all := g.Lines[:len(g.Lines):len(g.Lines)]
	for _, x := range g.Excluded {
		all = append(all, x.Text)
	}
	return all
}

// meant says what the value should be, as a sentence, where the alarm's own does
// not tell it or how far off it is: for the digest. Else empty.
func meant(a aquarium.Alarm, s aquarium.Site) string {
	v := viewOf(a, s)
	should := v.should()
	if should == "" || v.reading() == "" {
		return ""
	}
	for _, n := range strings.FieldsFunc(Sentence(a, s), func(r rune) bool { return (r < '0' || r > '9') && r != '.' }) {
		n = strings.TrimSuffix(n, ".")
		if n == unsigned(v.bare(*a.Evidence.Expected)) || n == unsigned(v.bare(a.Evidence.Value-*a.Evidence.Expected)) {
			return ""
		}
	}
	return upper(should) + "."
}

func unsigned(number string) string { return strings.TrimLeft(number, "+-") }

// judged is when the evidence was last taken up.
func judged(a *aquarium.Alarm) aquarium.Instant {
	at := a.Raised
	for _, e := range a.History {
		switch aquarium.Event(e.What) {
		case aquarium.Raised, aquarium.Worsened, aquarium.Renamed, aquarium.ReadingsStopped, aquarium.ReadingsBack:
			at = max(at, e.At)
		}
	}
	return at
}
