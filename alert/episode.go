package alert

import (
	"cmp"
	"slices"

	"lentic/collector/aquarium"
)

// episode is one stretch of time in which a condition was true.
type episode struct {
	last     aquarium.Transition // what was said of it last, under its present name
	from     aquarium.Instant    // zero: it stood when judging began
	until    aquarium.Instant    // zero: still true
	told     bool                // Raised, not only suppressed or out of service
	rejudged bool                // begun or named by the new judgement
}

// episodes compares what judging again finds with what the ledger has.
type episodes struct {
	past  []*file
	start aquarium.Instant
	begun []aquarium.Alarm // stood at start
	open  map[aquarium.Identity]*episode
	ended []*episode
}

func newEpisodes(past []*file, start aquarium.Instant) *episodes {
	e := &episodes{past: past, start: start, open: map[aquarium.Identity]*episode{}}
	for _, f := range past {
		if f.Alarm.Record {
			continue
		}
		for _, s := range spans(&f.Alarm) {
			if s.from <= start && (s.until == 0 || s.until > start) {
				a := f.Alarm
				a.Identity.Cause = causeAt(&a, start)
				a.Active = true
				e.begun = append(e.begun, a)
				break
			}
		}
	}
	for _, a := range e.begun {
		e.open[a.Identity] = &episode{last: aquarium.Transition{
			Event: eventOf(a.State), Identity: a.Identity, At: a.Raised,
			Priority: a.Priority, Since: a.Since, Evidence: a.Evidence, Parent: a.Parent, Projected: a.Projected, PageOnly: a.PageOnly,
		}, told: true}
	}
	return e
}

func eventOf(s aquarium.State) aquarium.Event {
	switch s {
	case aquarium.StateOutOfService:
		return aquarium.OutOfService
	case aquarium.StateSuppressed:
		return aquarium.Suppressed
	}
	return aquarium.Raised
}

func (e *episodes) standing() []aquarium.Alarm { return e.begun }

// see follows one transition.
func (e *episodes) see(t aquarium.Transition) {
	switch t.Event {
	case aquarium.Returned:
		if ep := e.open[t.Identity]; ep != nil {
			ep.until = t.At
			e.ended = append(e.ended, ep)
			delete(e.open, t.Identity)
		}
		return
	case aquarium.Renamed:
		old := t.Identity
		old.Cause = t.From
		if ep := e.open[old]; ep != nil {
			delete(e.open, old)
			e.open[t.Identity] = ep
		}
	case aquarium.ReadingsStopped, aquarium.ReadingsBack:
		if ep := e.open[t.Identity]; ep != nil {
			ep.rejudged, ep.last.Evidence = true, t.Evidence
		}
		return
	}
	ep := e.open[t.Identity]
	if ep == nil {
		ep = &episode{from: t.At}
		e.open[t.Identity] = ep
	}
	ep.rejudged = true
	ep.told = ep.told || t.Event != aquarium.Suppressed && t.Event != aquarium.OutOfService
	if t.Event == aquarium.Renamed || t.Event == aquarium.Worsened {
		t.Event = aquarium.Raised
	}
	ep.last = t
}

// settle brings the ledger to what was found: what still stands and is not
// known is raised now, what is known and no longer stands returns, what came
// and went is kept for the record and wakes nobody.
func (e *episodes) settle(c *change, now aquarium.Instant) {
	for _, id := range c.activeAt(e) {
		e.match(c, c.open(id), now)
	}
	for _, ep := range e.open {
		e.ended = append(e.ended, ep)
	}
	slices.SortFunc(e.ended, func(a, b *episode) int {
		return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.last.Identity.String(), b.last.Identity.String()))
	})
	for _, ep := range e.ended {
		switch {
		case ep.until == 0:
			c.apply(ep.last, c.now)
		case ep.told && ep.from != 0 && !e.known(ep):
			c.keepRecord(ep)
		}
	}
}

// activeAt lists what the ledger holds for true, in a settled order.
func (c *change) activeAt(e *episodes) []aquarium.AlarmID {
	var ids []aquarium.AlarmID
	for _, f := range e.past {
		if g, ok := c.d.files[f.Alarm.ID]; ok && g.Alarm.Active {
			ids = append(ids, f.Alarm.ID)
		}
	}
	slices.Sort(ids)
	return ids
}

// match finds the open episode that is this alarm, under its name or another
// of the same trouble.
func (e *episodes) match(c *change, f *file, now aquarium.Instant) {
	for id, ep := range e.open {
		if !same(id, f.Alarm.Identity) {
			continue
		}
		delete(e.open, id)
		if !ep.rejudged {
			return
		}
		e.amend(f, ep)
		if since := ep.last.Since; since != 0 && since < f.Alarm.Since {
			f.Alarm.Since = since // late readings tell when it really began
		}
		if id.Cause != f.Alarm.Cause {
			t := ep.last
			t.Event, t.From = aquarium.Renamed, f.Alarm.Cause
			c.apply(t, c.now)
		} else if ep.last.Priority > f.Alarm.Priority {
			t := ep.last
			t.Event = aquarium.Worsened
			c.apply(t, c.now)
		}
		c.apply(ep.last, c.now)
		return
	}
	at := now
	for _, ep := range e.ended {
		if same(ep.last.Identity, f.Alarm.Identity) {
			at = max(ep.until, f.Alarm.Raised)
		}
	}
	c.returned(f, at, "")
}

// amend enters into the record of an alarm that stands what late readings tell
// of it: that it was gone for a while. Nobody was told, so nobody is.
func (e *episodes) amend(f *file, ep *episode) {
	begun := func(t aquarium.Instant) bool {
		return slices.ContainsFunc(spans(&f.Alarm), func(s span) bool { return s.from == t })
	}
	for _, gone := range e.ended {
		if !same(gone.last.Identity, f.Alarm.Identity) || gone.until <= f.Alarm.Raised || gone.until >= ep.from || begun(ep.from) {
			continue
		}
		f.record(gone.until, string(aquarium.Returned), "", found)
		next := ep.from
		for _, o := range e.ended {
			if same(o.last.Identity, f.Alarm.Identity) && o.from > gone.until && o.from < next {
				next = o.from
			}
		}
		f.record(next, string(aquarium.Raised), "", found)
	}
	slices.SortStableFunc(f.Alarm.History, func(a, b aquarium.AlarmEvent) int { return cmp.Compare(a.At, b.At) })
}

// found is said of what nobody was told when it happened.
const found = "found in readings that came late"

// known reports whether the ledger has an alarm for the episode already.
func (e *episodes) known(ep *episode) bool {
	for _, f := range e.past {
		if !same(f.Alarm.Identity, ep.last.Identity) {
			continue
		}
		for _, s := range spans(&f.Alarm) {
			if s.from <= ep.until && (s.until == 0 || s.until >= ep.from) {
				return true
			}
		}
	}
	return false
}

// keepRecord keeps an alarm that had come and gone before it was found.
func (c *change) keepRecord(ep *episode) {
	t := ep.last
	f := &file{Alarm: aquarium.Alarm{
		ID: aquarium.AlarmID(newID(ep.from)), Identity: t.Identity, State: aquarium.Normal,
		Since: t.Since, Raised: ep.from, Returned: ep.until, Record: true,
	}}
	f.proves(t)
	f.record(ep.from, string(aquarium.Raised), "", found)
	f.record(ep.until, string(aquarium.Returned), "", "")
	c.past = append(c.past, f)
}

// same reports whether two identities are one trouble: equal, or names of one
// chain at the same tank.
func same(a, b aquarium.Identity) bool {
	if a == b {
		return true
	}
	return a.TankKey() == b.TankKey() && slices.Contains(chain, a.Cause) && slices.Contains(chain, b.Cause)
}
