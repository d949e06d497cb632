package page

import "lentic/collector/aquarium"

// AlarmPage is the page a text links to: what do I do now?
type AlarmPage struct {
	Frame
	Alarm
	Site *aquarium.Site // nil: lentic itself
	Tank *aquarium.Tank // nil: the whole site
	// First is the one first act, Then what follows, Cautions what to mind.
	First    string
	Then     []string
	Cautions []string
	// Grounds say what the alarm rests on and Excluded what was ruled out, as
	// of GroundsAt; 0: not known.
	Grounds, Excluded []string
	GroundsAt         aquarium.Instant
	// Evidence is drawn around the onset: the strips that prove it, and the
	// switches that act on them. From and To are the stretch asked for.
	Evidence []Series
	From, To aquarium.Instant
	Latest   []Latest // of the evidence's sensors
	// Token is set on a texted link: the page then shows this alarm only
	// and its form posts to /a/{token}. Else it posts to /alarm/{id}.
	// The form sends act=acknowledge with note, or (never from a texted
	// link) act=shelve with hours (1, 4, 12 or 24) and reason.
	Token string
}

// Told is one message about an alarm.
type Told struct {
	Name string // of the person
	By   aquarium.ChannelID
	At   aquarium.Instant // sent; 0: not yet
	Due  aquarium.Instant
	Lost string // why it was given up; empty: it was not
}

func (*AlarmPage) name() string { return "alarm" }
