package alert

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"lentic/alert/rota"
	"lentic/alert/text"
	"lentic/collector/aquarium"
)

// mail is one person's daily digest that has fallen due.
type mail struct {
	key   string
	who   aquarium.Person
	by    aquarium.ChannelID
	since aquarium.Instant // the last one
	first bool             // none yet: the day is only begun
}

// mailsDue lists the digests whose hour has come. The caller holds d.mu.
func (d *Desk) mailsDue(now aquarium.Instant) []mail {
	var ms []mail
	for _, p := range []aquarium.Priority{aquarium.High, aquarium.Medium, aquarium.Low} {
		for _, r := range d.o.CallOut[p] {
			who, ok := d.person(r.Tell)
			if r.Digest == nil || !ok {
				continue
			}
			m := mail{key: fmt.Sprintf("%s/%s/%s", r.Tell, r.By, *r.Digest), who: who, by: r.By}
			if slices.ContainsFunc(ms, func(o mail) bool { return o.key == m.key }) {
				continue
			}
			last, ok := d.digests[m.key]
			m.since, m.first = last, !ok
			next := rota.NextDigest(*r.Digest, who.Timezone, last)
			if m.first || rota.Hold(aquarium.Low, who, max(next, now)) <= now && next <= now {
				ms = append(ms, m)
			}
		}
	}
	return ms
}

// digests writes the mails that are due. They are written on quiet days too.
func (c *change) digests(ms []mail) error {
	for _, m := range ms {
		if err := c.tx.Put(shelfDigests, m.key, c.now); err != nil {
			return err
		}
		c.kept = append(c.kept, func() { c.d.digests[m.key] = c.now })
		if m.first {
			continue
		}
		if err := c.digest(m); err != nil {
			return err
		}
	}
	return nil
}

func (c *change) digest(m mail) error {
	day := text.Day{To: m.who, At: c.now, URL: c.d.o.PublicURL}
	for _, b := range c.d.benches {
		day.Sites = append(day.Sites, b.site)
	}
	for id, f := range c.d.files {
		if g, ok := c.files[id]; ok {
			f = g
		}
		switch a := f.Alarm; {
		case !a.State.Standing() || a.PageOnly:
		case a.Active && a.State != aquarium.StateSuppressed && a.State != aquarium.StateOutOfService:
			day.Standing = append(day.Standing, a)
		case a.Returned >= m.since && a.State == aquarium.ReturnedUnacknowledged:
			day.Ended = append(day.Ended, a)
		}
	}
	// An alarm raised longer ago than its record is kept may be left out.
	err := each(c.tx, shelfPast, idFrom(c.now.Add(-keep)), func(_ string, f *file) {
		if a := f.Alarm; a.Returned >= m.since && !a.PageOnly && (len(a.History) == 0 || a.History[0].What == string(aquarium.Raised)) {
			day.Ended = append(day.Ended, a)
		}
	})
	if err != nil {
		return err
	}
	slices.SortFunc(day.Standing, byUrgency)
	slices.SortFunc(day.Ended, byUrgency)
	out := c.post(KindDigest, aquarium.Low, m.who, m.by)
	if s := c.d.o.Senders[m.by]; s != nil && !strings.Contains(s.Address(m.who), "@") {
		out.Text = text.DigestText(day)
		return nil
	}
	t := text.Digest(day)
	out.Subject, out.Text = t.Subject, t.Text
	return nil
}

// idFrom is the first id that newID can give at that time.
func idFrom(at aquarium.Instant) string { return fmt.Sprintf("%011x", int64(at)) }

// prune drops records of messages and links that nobody can ask for any more,
// once a day. The caller holds d.mu.
func (d *Desk) prune(now aquarium.Instant) error {
	if now.Sub(d.pruned) < 24*time.Hour {
		return nil
	}
	return d.update(func(c *change) error {
		c.kept = append(c.kept, func() { d.pruned = now })
		var sent, links []string
		end := idFrom(now.Add(-keep))
		err := c.tx.Each(shelfSent, "", end, func(key string, _ []byte) bool {
			sent = append(sent, key)
			return true
		})
		if err != nil {
			return err
		}
		err = each(c.tx, shelfLinks, "", func(key string, l *link) {
			if l.Until < now {
				links = append(links, key)
			}
		})
		if err != nil {
			return err
		}
		for _, k := range sent {
			if err := c.tx.Delete(shelfSent, k); err != nil {
				return err
			}
		}
		for _, k := range links {
			if err := c.tx.Delete(shelfLinks, k); err != nil {
				return err
			}
		}
		return nil
	})
}
