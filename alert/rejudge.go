package alert

import (
	"fmt"
	"time"

	"lentic/alert/detect"
	"lentic/collector/aquarium"
	"lentic/store/ledger"
)

// reach is how far back late readings are judged for the record. What is older
// is stored and drawn.
const reach = 14 * 24 * time.Hour

// overlap is judged again at a restart: what was committed but not yet taken
// when the process ended lies in it.
const overlap = 2 * time.Minute

// setUp gives a bench its watch. A site that was judged before goes on from its
// mark, or from the oldest reading the mark passed over; a new one is warmed up
// and what stands there is seen at its next tick.
func (d *Desk) setUp(b *bench, upto aquarium.Instant) error {
	if b.judged != 0 { // a new configuration
		from := b.judged
		if late := d.in.late[b.site.ID]; late != nil {
			delete(d.in.late, b.site.ID)
			from = min(from, late.oldest-1)
		}
		return d.rejudge(b, from, max(upto, b.judged))
	}
	var m mark
	var u unjudged
	var known, passed bool
	err := d.o.Ledger.View(func(tx ledger.Tx) (err error) {
		if known, err = tx.Get(shelfMarks, string(b.site.ID), &m); err != nil {
			return err
		}
		passed, err = tx.Get(shelfUnjudged, string(b.site.ID), &u)
		return err
	})
	if err != nil {
		return err
	}
	if !known || m.Judged > upto {
		return d.rejudge(b, upto, upto)
	}
	if now := d.now(); now.Sub(m.Judged) > absence {
		if err := d.missed(m.Judged, now); err != nil {
			return err
		}
	}
	from := m.Judged.Add(-overlap)
	if passed {
		from = min(from, u.Oldest-1)
	}
	return d.rejudge(b, from, upto)
}

// missed notes in the journal that lentic was not listening.
func (d *Desk) missed(from, to aquarium.Instant) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, e := range d.journal { // once for all sites
		if e.Kind == aquarium.Deaf && e.At <= from && e.Until >= to.Add(-absence) {
			return nil
		}
	}
	d.o.Log.Warn("not listening", "from", from.String(), "to", to.String())
	return d.update(func(c *change) error {
		return c.enter(aquarium.Entry{Kind: aquarium.Deaf, At: from, Until: to, Note: "lentic was not running"})
	})
}

// rejudge judges the site again over (from, to] from what is stored, compares
// the outcome with the ledger and goes on with the new watch.
func (d *Desk) rejudge(b *bench, from, to aquarium.Instant) error {
	from = max(from, to.Add(-reach)).Floor(aquarium.Step)
	started := d.now()
	d.mu.Lock()
	site := b.site
	journal := d.entries()
	past, err := d.recordOf(site.ID)
	d.mu.Unlock()
	if err != nil {
		return fmt.Errorf("read its alarms: %w", err)
	}
	w := d.o.watch(site)
	e := newEpisodes(past, from)
	read := map[reading]bool{}
	var ahead []aquarium.Sample
	var broken error
	r := replay{watch: w, site: site, journal: journal, standing: e.standing(), from: from, to: to}
	r.samples = func(yield func(aquarium.Sample) bool) {
		end := max(to, started).Add(aquarium.Ahead) + 1
		broken = Samples(d.o.History, site, from.Add(-detect.Memory), end, func(s aquarium.Sample) bool {
			if to.Sub(s.At) < absence {
				read[reading{s.Sensor, s.At}] = true
			}
			if s.At > to { // for the ticks to come
				ahead = append(ahead, s)
				return true
			}
			return yield(s)
		})
	}
	r.run(e.see)
	if broken != nil {
		return fmt.Errorf("judge again: %w", broken)
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	note(w, site.ID, d.entries()) // what was entered meanwhile
	err = d.update(func(c *change) error {
		e.settle(c, to)
		if err := c.mark(b, to); err != nil {
			return err
		}
		return c.judgedFrom(site.ID, from, started)
	})
	if err != nil {
		return err
	}
	b.watch, b.judged, b.anew = w, to, false
	b.read, b.readUntil = read, max(to, started).Add(aquarium.Ahead)
	pending := b.pending
	b.pending = ahead
	for _, s := range pending {
		b.give(s)
	}
	return nil
}

// judgedFrom clears the note of unjudged readings where all of them were read.
func (c *change) judgedFrom(site aquarium.SiteID, from, started aquarium.Instant) error {
	var u unjudged
	ok, err := c.tx.Get(shelfUnjudged, string(site), &u)
	if err != nil || !ok || u.Oldest <= from && from > started.Add(-reach) || u.Noted >= started {
		return err
	}
	return c.tx.Delete(shelfUnjudged, string(site))
}

// recordOf is every alarm the ledger has of what is configured at a site. The caller holds d.mu.
func (d *Desk) recordOf(site aquarium.SiteID) ([]*file, error) {
	var fs []*file
	sites := []aquarium.Site{}
	if s := d.site(site); s != nil {
		sites = append(sites, *s)
	}
	take := func(f *file) {
		if f.Alarm.Site == site && configured(sites, f.Alarm.Identity) {
			fs = append(fs, f)
		}
	}
	for _, f := range d.files {
		take(f)
	}
	err := d.o.Ledger.View(func(tx ledger.Tx) error {
		return each(tx, shelfPast, "", func(_ string, f *file) { take(f) })
	})
	return fs, err
}
