package alert

import (
	"time"

	"lentic/alert/text"
	"lentic/collector/aquarium"
)

// patience is how long an alarm's messages may fail before lentic says that
// nobody was reached.
const patience = 2 * time.Minute

// wants reports whether a message about the alarm still says what is true.
func (f *file) wants(m *OutMessage) bool {
	if m.Kind == text.AllClear {
		return !f.Alarm.Active
	}
	return f.calling()
}

// reached raises nobody-reached while there is an alarm of which no text got
// through by any channel, and returns it once there is none. The caller holds
// d.mu.
func (d *Desk) reached() error {
	now := d.now()
	ev := aquarium.Evidence{}
	nobody := false
	for _, f := range d.files {
		if since, ok := d.unreached(f); ok && now.Sub(since) >= patience {
			nobody = true
			ev.Facts = []aquarium.Fact{{Name: "alarm", Word: string(f.Alarm.ID)}}
		}
	}
	return d.own(aquarium.NobodyReached, nobody, ev)
}

// unreached reports since when messages of a standing alarm fail without one
// having arrived.
func (d *Desk) unreached(f *file) (since aquarium.Instant, failing bool) {
	if f.Alarm.Cause == aquarium.NobodyReached || f.Alarm.Priority < aquarium.Medium || f.Reached {
		return 0, false
	}
	for _, m := range d.box {
		if m.Alarm != f.Alarm.ID || len(m.Attempts) == 0 {
			continue
		}
		to, _ := d.recipient(m.Site, m.To)
		if len(m.Attempts) < len(d.ways(m, to)) {
			return 0, false // there is a way that has not been tried
		}
		if at := m.Attempts[0].At; since == 0 || at < since {
			since = at
		}
	}
	return since, since != 0
}
