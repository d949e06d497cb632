package text

import "lentic/collector/aquarium"

// Mail is a message with a subject line.
type Mail struct{ Subject, Text string }

// Day is what a digest tells of.
type Day struct {
	To       aquarium.Person
	At       aquarium.Instant // when it is written
	Sites    []aquarium.Site
	Standing []aquarium.Alarm // in the order they are to be told
	Ended    []aquarium.Alarm // that returned to normal since the last digest
	URL      string           // of the pages; empty: no links
}

// Digest is the daily mail. It is written on quiet days too: then it says that
// nothing stands, so that silence from lentic itself is noticed.
func Digest(d Day) Mail { return digest(d) }

// DigestText is the same for a telephone: one message of at most Limit septets.
func DigestText(d Day) string { return digestText(d) }

// TestText is the message that proves a channel end to end.
func TestText(to aquarium.Person, at aquarium.Instant) string { return testText(to, at) }

// VisitText is the message that a declared visit has ended by itself.
func VisitText(s aquarium.Site, t aquarium.TankID, link string) string { return visitText(s, t, link) }
