package alert

import (
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"slices"

	"lentic/alert/rota"
	"lentic/alert/text"
	"lentic/collector/aquarium"
)

// Shelves of the ledger that are the desk's.
const (
	shelfStanding = "alarms-standing" // by alarm id
	shelfPast     = "alarms-past"     // by alarm id
	shelfMarks    = "marks"           // by site
	shelfLearned  = "learned"         // by site and tank
	shelfUnjudged = "unjudged"        // by site
	shelfJournal  = "journal"         // by entry id
	shelfVisits   = "visits-open"     // by entry id
	shelfOutbox   = "outbox"          // by message id
	shelfSent     = "outbox-sent"     // by message id
	shelfLinks    = "links"           // by the hash of the token
	shelfDigests  = "digests"         // by person, channel and hour
)

// file is an alarm with what has been told about it, as the ledger keeps it.
type file struct {
	Alarm aquarium.Alarm `json:"alarm"`
	Call  rota.Call      `json:"call"`
	// Opening is why the ladder began, for the first text to each.
	Opening text.Kind `json:"opening,omitempty"`
	// Told lists who has heard of it since the last all-clear, and so is
	// owed one.
	Told []told `json:"told,omitempty"`
	// Reached is set once any message about it has arrived.
	Reached bool `json:"reached,omitempty"`
	// Repeats counts how often it came back before it was acknowledged.
	Repeats int `json:"repeats,omitempty"`
	// ClearAt is when the all-clear goes out, if it stays normal till then.
	ClearAt aquarium.Instant `json:"clearAt,omitempty"`
}

// told is one person told by one channel.
type told struct {
	Person aquarium.PersonID  `json:"person"`
	By     aquarium.ChannelID `json:"by"`
}

// historyLimit bounds an alarm's record: one that comes and goes for weeks
// keeps how it began and what happened last.
const historyLimit = 200

func (f *file) record(at aquarium.Instant, what string, by aquarium.PersonID, note string) {
	h := append(f.Alarm.History, aquarium.AlarmEvent{At: at, What: what, By: by, Note: note})
	if len(h) > historyLimit {
		h = slices.Delete(h, historyLimit/4, historyLimit/4+1)
	}
	f.Alarm.History = h
}

// clone is a copy that shares nothing that is written to.
func (f *file) clone() *file {
	c := *f
	c.Alarm.History = slices.Clone(f.Alarm.History)
	c.Told = slices.Clone(f.Told)
	return &c
}

func (f *file) toldBy(p aquarium.PersonID, by aquarium.ChannelID) bool {
	return slices.Contains(f.Told, told{p, by})
}

// calling reports whether the ladder is being climbed.
func (f *file) calling() bool {
	return !f.Alarm.PageOnly && f.Alarm.State == aquarium.Unacknowledged && f.Alarm.Active
}

// newID is an id whose order is that of its time. It is not secret.
func newID(at aquarium.Instant) string {
	var b [5]byte
	_, _ = rand.Read(b[:])
	return fmt.Sprintf("%011x%s", int64(at), hex.EncodeToString(b[:]))
}
