package text

import "lentic/collector/aquarium"

// Kind is why a message about an alarm is sent.
type Kind string

const (
	Raised        Kind = "raised"         // for the first time
	Worse         Kind = "worse"          // the same alarm, further out or more urgent
	Renamed       Kind = "renamed"        // the same trouble, under a worse name
	Again         Kind = "again"          // nobody has acknowledged it
	AllClear      Kind = "all-clear"      // back to normal
	StillStanding Kind = "still-standing" // found standing after lentic was away, or its shelving ended
)

// Message is the text that goes to a telephone: at most Limit septets of the
// GSM 7-bit alphabet whatever the names are. In this order of importance it
// tells which tank and place, what is wrong in words, the number that proves
// it and its trend, the one first act, and the link (empty: none). Names are
// cut before facts are; a link is given whole or not at all.
//
// An all-clear tells no act. s is the alarm's site; the zero Site for lentic's
// own causes.
func Message(k Kind, a aquarium.Alarm, s aquarium.Site, link string) string {
	return fit(compose(k, a, s), link)
}

// Subject is the subject line of the same message sent by mail: the place, and
// what is wrong in words.
func Subject(k Kind, a aquarium.Alarm, s aquarium.Site) string {
	p := compose(k, a, s)
	return p.place() + ": " + p.what
}

// Sentence says one alarm in plain words, for the page and the API: without
// place, act and link. It is one sentence or two and ends with a full stop.
func Sentence(a aquarium.Alarm, s aquarium.Site) string {
	w := wordingOf(a, s)
	return sentence(w.What, parts{proof: w.Proof, trend: w.Trend}.evidence())
}
