package daemon

import (
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"iter"
	"slices"
	"time"

	"lentic/alert"
	"lentic/alert/detect"
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
}

// Backtest judges a site over samples in the order of their times, with the
// very code that judges it live, and returns what was raised and what returned
// in (from, to]. What is suppressed or out of service is left out: going out of
// service ends what stood.
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
		Priority: a.Priority, Event: e, Value: a.Evidence.Value, Unit: a.Evidence.Unit, Text: text.Sentence(a, b.site),
	}
	if a.Projected != 0 {
		l.Projected = a.Projected.In(b.site.Timezone).Format(time.DateOnly)
	}
	b.lines = append(b.lines, l)
}

// WriteLines prints events in the order of time, as JSON lines or as sentences
// with a summary under them.
func WriteLines(out io.Writer, lines []Line, asJSON bool) error {
	slices.SortStableFunc(lines, func(a, b Line) int {
		return cmp.Or(cmp.Compare(a.Time, b.Time), cmp.Compare(a.Site, b.Site))
	})
	if asJSON {
		enc := json.NewEncoder(out)
		enc.SetEscapeHTML(false)
		for _, l := range lines {
			if err := enc.Encode(l); err != nil {
				return err
			}
		}
		return nil
	}
	raised := map[aquarium.Cause]int{}
	for _, l := range lines {
		if l.Event == aquarium.Raised {
			raised[l.Cause]++
		}
		if _, err := fmt.Fprintf(out, "%s  %-8s  %-6s  %s\n", l.Time, l.Event, l.Priority, l.Text); err != nil {
			return err
		}
	}
	if len(raised) == 0 {
		_, err := fmt.Fprintln(out, "No alarms.")
		return err
	}
	fmt.Fprintln(out)
	for _, c := range aquarium.Causes() {
		if n := raised[c]; n > 0 {
			if _, err := fmt.Fprintf(out, "%4d  %s\n", n, c); err != nil {
				return err
			}
		}
	}
	return nil
}

// stored is the site's stored readings as samples, with the warm-up before
// from; *err is set where they cannot be read.
func stored(h alert.History, site aquarium.Site, from, to aquarium.Instant, err *error) iter.Seq[aquarium.Sample] {
	return func(yield func(aquarium.Sample) bool) {
		*err = alert.Samples(h, site, from.Add(-detect.Memory), to.Add(aquarium.Step), yield)
	}
}
