package config

import (
	"maps"
	"slices"
	"time"

	"lentic/collector/aquarium"
)

func contains(words []string, s string) bool { return slices.Contains(words, s) }

// known lists a map's keys in order, for messages.
func known[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

// label names an item by its id, for messages.
func label(what string, n *node) string {
	if id := n.get("id"); id != nil && id.kind == scalar && id.text != "" {
		return what + " " + short(id.text)
	}
	return what
}

// fresh is an id that has not been given before.
func (r *reader) fresh(n *node, seen map[string]bool) string {
	s := r.id(n)
	if s != "" && seen[s] {
		r.bad(n, "id %s is given twice: want each once", short(s))
	}
	if s != "" {
		seen[s] = true
	}
	return s
}

func (p *parse) peopleList(n *node) {
	p.each(n, "people", func(_ int, n *node) {
		var a aquarium.Person
		p.in(label("person", n), func() {
			p.object(n,
				must("id", func(n *node) { a.ID = aquarium.PersonID(p.fresh(n, p.people)) }),
				may("name", func(n *node) { a.Name = p.line(n) }),
				may("phone", func(n *node) { a.Phone = p.phone(n) }),
				may("email", func(n *node) { a.Email = p.email(n) }),
				may("timezone", func(n *node) { a.Timezone = p.zone(n) }),
				may("quiet", func(n *node) {
					a.Quiet = p.span(n)
					if a.Quiet != nil && a.Quiet.From == 0 && a.Quiet.To == 24*60 {
						p.bad(n, "quiet never ends: want a stretch of the day, as 22:00-07:00")
					}
				}),
			)
			if n.kind == mapping && n.get("phone") == nil && n.get("email") == nil {
				p.warn(n, "neither phone nor email: nothing can reach this person")
			}
		})
		if a.ID == contactsWord {
			p.bad(n, "id %q means the site's own contacts: want another", contactsWord)
		}
		if p.contacts[string(a.ID)] {
			p.bad(n, "id %q is also a site's contact: want two ids", a.ID)
		}
		if a.Name == "" {
			a.Name = string(a.ID)
		}
		p.c.People = append(p.c.People, a)
	})
}

// contactsWord stands in a ladder for everybody the alarm's site lists as a
// contact.
const contactsWord = "contacts"

func (p *parse) callOut(n *node) {
	ladder := func(pr aquarium.Priority) field {
		return may(pr.String(), func(n *node) { p.c.CallOut[pr] = p.ladder(n, pr) })
	}
	p.object(n, ladder(aquarium.High), ladder(aquarium.Medium), ladder(aquarium.Low))
}

func (p *parse) ladder(n *node, pr aquarium.Priority) (rungs []aquarium.Rung) {
	p.each(n, "steps, as { tell: keeper, by: texts }", func(i int, n *node) {
		var g aquarium.Rung
		p.object(n,
			may("after", func(n *node) { g.After = p.duration(n, 0, 7*24*time.Hour) }),
			must("tell", func(n *node) { g.Tell = aquarium.PersonID(p.whom(n)) }),
			must("by", func(n *node) { g.By = aquarium.ChannelID(p.way(n)) }),
			may("repeat", func(n *node) { g.Repeat = p.duration(n, time.Minute, 24*time.Hour) }),
			may("digest", func(n *node) { c := p.clock(n); g.Digest = &c }),
		)
		p.rung(n, g, pr)
		if i > 0 && g.After < rungs[i-1].After {
			p.bad(n, "after %s comes before the step above it, %s: want them in order", plainly(g.After), plainly(rungs[i-1].After))
		}
		rungs = append(rungs, g)
	})
	return rungs
}

// rung checks one step as a whole.
func (p *parse) rung(n *node, g aquarium.Rung, pr aquarium.Priority) {
	if d := n.get("digest"); d != nil {
		switch {
		case pr == aquarium.High:
			p.bad(d, "digest: a high alarm cannot wait for one: want it told at once")
		case n.get("after") != nil || n.get("repeat") != nil:
			p.bad(d, "digest goes out once a day: want it without after and repeat")
		}
	}
	ch := p.channels[string(g.By)]
	for _, a := range p.c.People {
		if a.ID != g.Tell || ch == nil {
			continue
		}
		if ch.HTTP != nil && a.Phone == "" {
			p.warn(n, "person %q has no phone: channel %q cannot reach them", a.ID, g.By)
		}
		if ch.SMTP != nil && a.Email == "" {
			p.warn(n, "person %q has no email: channel %q cannot reach them", a.ID, g.By)
		}
	}
}

// whom is a person, a site's contact, or all contacts of the alarm's site.
func (p *parse) whom(n *node) string {
	s, ok := p.text(n)
	if ok && !p.people[s] && !p.contacts[s] && s != contactsWord {
		p.bad(n, "person %s is not configured%s", short(s), meant(s, append(known(p.people), known(p.contacts)...)))
	}
	return s
}

// way is a channel.
func (p *parse) way(n *node) string {
	s, ok := p.text(n)
	if ok && p.channels[s] == nil {
		p.bad(n, "channel %s is not configured%s", short(s), meant(s, known(p.channels)))
	}
	return s
}

func (p *parse) contactList(n *node, s *aquarium.Site) {
	seen := map[string]bool{}
	p.each(n, "contacts", func(_ int, n *node) {
		var c aquarium.Contact
		p.in(label("contact", n), func() {
			p.object(n,
				must("id", func(n *node) { c.ID = aquarium.PersonID(p.fresh(n, seen)) }),
				may("name", func(n *node) { c.Name = p.line(n) }),
				may("phone", func(n *node) { c.Phone = p.phone(n) }),
				may("email", func(n *node) { c.Email = p.email(n) }),
				may("by", func(n *node) { c.By = aquarium.ChannelID(p.way(n)) }),
			)
			if n.kind == mapping && n.get("phone") == nil && n.get("email") == nil {
				p.bad(n, "neither phone nor email: want one of them")
			}
		})
		if c.ID != "" {
			p.contacts[string(c.ID)] = true
		}
		s.Contacts = append(s.Contacts, c)
	})
}
