package daemon

import (
	"iter"
	"time"

	"lentic/alert"
	"lentic/alert/text"
	"lentic/collector/aquarium"
)

// Line is what `lentic backtest --json` prints of one event.
type Line struct {
	Time      string                `json:"time"`
	Site      aquarium.SiteID       `json:"site"`
	Tank      aquarium.TankID       `json:"tank"`
	Cause     aquarium.Cause        `json:"cause"`
	Equipment aquarium.EquipmentKey `json:"equipment"`
	Priority  aquarium.Priority     `json:"priority"`
	Event     aquarium.Event        `json:"event"`
	Value     float64               `json:"value"`
	Unit      aquarium.Unit         `json:"unit"`
	Text      string                `json:"text"`
	Projected string                `json:"projected,omitempty"`
	Evidence  *Explained            `json:"evidence,omitempty"` // only where it is asked for

	at  aquarium.Instant
	why *Explained // what it rests on; of a raise
}

// Backtest judges a site over samples in the order of their times, with the
// very code that judges it live, and returns what was raised and what returned
// in (from, to]; where both are zero, over all of them. What is suppressed or out
// of service is left out: going out of service ends what stood.
func Backtest(site aquarium.Site, samples iter.Seq[aquarium.Sample], journal []aquarium.Entry, from, to aquarium.Instant) []Line {
	b := book{site: site, standing: map[aquarium.Identity]aquarium.Alarm{}}
	alert.Replay(site, samples, journal, from, to, b.enter)
	return b.lines
}

// book turns transitions into lines: every raise has at most one return, and
// every return a raise before it.
type book struct {
	site     aquarium.Site
	standing map[aquarium.Identity]aquarium.Alarm
	lines    []Line
}

func (b *book) enter(t aquarium.Transition) {
	a := aquarium.Alarm{Identity: t.Identity, Priority: t.Priority, Active: true, State: aquarium.Unacknowledged,
		Since: t.Since, Raised: t.At, Evidence: t.Evidence, Projected: t.Projected}
	switch t.Event {
	case aquarium.Raised:
		b.raise(t.At, a)
	case aquarium.Renamed:
		former := t.Identity
		former.Cause = t.From
		b.end(t.At, former, t.Evidence)
		b.raise(t.At, a)
	case aquarium.Returned, aquarium.OutOfService:
		b.end(t.At, t.Identity, t.Evidence)
	}
}

func (b *book) raise(at aquarium.Instant, a aquarium.Alarm) {
	if _, stands := b.standing[a.Identity]; stands {
		return
	}
	b.standing[a.Identity] = a
	b.write(at, a, aquarium.Raised)
}

func (b *book) end(at aquarium.Instant, id aquarium.Identity, ev aquarium.Evidence) {
	a, stands := b.standing[id]
	if !stands {
		return
	}
	delete(b.standing, id)
	a.Active, a.State, a.Returned = false, aquarium.ReturnedUnacknowledged, at
	a.Evidence = ev
	b.write(at, a, aquarium.Returned)
}

func (b *book) write(at aquarium.Instant, a aquarium.Alarm, e aquarium.Event) {
	l := Line{
		Time: at.Time().Format(time.RFC3339), Site: a.Site, Tank: a.Tank, Cause: a.Cause, Equipment: a.Equipment,
		at: at, Priority: a.Priority, Event: e, Value: a.Evidence.Value, Unit: a.Evidence.Unit, Text: text.Sentence(a, b.site),
	}
	if e == aquarium.Raised {
		l.why = explained(a, b.site)
	}
	if a.Projected != 0 {
		l.Projected = a.Projected.In(b.site.Timezone).Format(time.DateOnly)
	}
	b.lines = append(b.lines, l)
}
