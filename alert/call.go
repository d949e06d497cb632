package alert

import (
	"cmp"
	"maps"
	"slices"
	"time"

	"lentic/alert/rota"
	"lentic/alert/text"
	"lentic/collector/aquarium"
)

// Contacts, where a rung names it instead of a person or a channel, means
// everybody the alarm's site lists as a contact, each by the contact's own
// channel.
const Contacts = "contacts"

// rungs is the ladder of an alarm. That nobody was reached is called out by
// every channel to everybody at once, for nobody knows which still works.
func (d *Desk) rungs(a *aquarium.Alarm) []aquarium.Rung {
	if a.Cause != aquarium.NobodyReached {
		return d.o.CallOut[a.Priority]
	}
	var rs []aquarium.Rung
	for _, p := range d.o.People {
		for _, by := range d.channelsOf(p) {
			rs = append(rs, aquarium.Rung{Tell: p.ID, By: by, Repeat: 15 * time.Minute})
		}
	}
	return rs
}

// channelsOf lists the channels that reach a person, in the order of their ids.
func (d *Desk) channelsOf(p aquarium.Person) []aquarium.ChannelID {
	var ids []aquarium.ChannelID
	for _, id := range slices.Sorted(maps.Keys(d.o.Senders)) {
		if d.o.Senders[id].Address(p) != "" {
			ids = append(ids, id)
		}
	}
	return ids
}

// due is what the ladder of an alarm asks for now.
func (d *Desk) due(f *file, now aquarium.Instant) []rota.Step {
	if !f.calling() {
		return nil
	}
	steps, _ := rota.Due(d.rungs(&f.Alarm), f.Call, d.person, now)
	return steps
}

// person finds one of the people; site contacts keep no quiet hours.
func (d *Desk) person(id aquarium.PersonID) (aquarium.Person, bool) {
	for _, p := range d.o.People {
		if p.ID == id {
			return p, true
		}
	}
	return aquarium.Person{}, false
}

// recipient is the person or the site's contact of that id.
func (d *Desk) recipient(site aquarium.SiteID, id aquarium.PersonID) (aquarium.Person, bool) {
	if p, ok := d.person(id); ok {
		return p, true
	}
	if s := d.site(site); s != nil {
		for _, c := range s.Contacts {
			if c.ID == id {
				return aquarium.Person{ID: c.ID, Name: cmp.Or(c.Name, string(c.ID)), Phone: c.Phone, Email: c.Email}, true
			}
		}
	}
	return aquarium.Person{}, false
}

// climb tells everyone whose rung has come.
func (c *change) climb(f *file) {
	steps := c.d.due(f, c.now)
	if len(steps) == 0 {
		return
	}
	rungs := c.d.rungs(&f.Alarm)
	before := f.Call
	f.Call = f.Call.Told(steps)
	for _, s := range steps {
		kind := f.Opening
		if before.Heard(rungs, s.Rung.Tell, s.Rung.By) {
			kind = text.Again
		}
		c.tell(f, kind, c.d.heads(f, s.Rung))
	}
}

// heads lists who a rung means for an alarm.
func (d *Desk) heads(f *file, r aquarium.Rung) []told {
	if r.Tell != Contacts && r.By != Contacts {
		return []told{{r.Tell, r.By}}
	}
	var ts []told
	if s := d.site(f.Alarm.Site); s != nil {
		for _, c := range s.Contacts {
			if r.Tell == Contacts || r.Tell == c.ID {
				by := c.By
				if r.By != Contacts && r.By != "" {
					by = r.By
				}
				ts = append(ts, told{c.ID, by})
			}
		}
	}
	return ts
}

// tell writes one message to each.
func (c *change) tell(f *file, k text.Kind, to []told) {
	for _, t := range slices.Clone(to) {
		who, ok := c.d.recipient(f.Alarm.Site, t.Person)
		if !ok {
			continue // a contact of another site, or gone from the configuration
		}
		c.write(f, k, who, t.By)
		if k != text.AllClear && !f.toldBy(t.Person, t.By) {
			f.Told = append(f.Told, t)
		}
		f.record(c.now, "told", t.Person, string(k)+" by "+string(t.By))
	}
}

// allClear tells everyone who was told, once.
func (c *change) allClear(f *file) {
	to := f.Told
	f.Told, f.ClearAt = nil, 0
	c.tell(f, text.AllClear, to)
}

// overtake takes back what has not left yet.
func (c *change) overtake(f *file, why string) {
	for id, m := range c.d.box {
		if m.Alarm == f.Alarm.ID {
			c.message(id)
		}
	}
	for _, m := range c.messages {
		if m.Alarm == f.Alarm.ID && m.State == Waiting {
			m.end(Overtaken, c.now, why)
		}
	}
}
