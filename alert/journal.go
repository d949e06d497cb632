package alert

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"

	"lentic/alert/text"
	"lentic/collector/aquarium"
)

// VisitLength is how long a visit lasts when nobody says; VisitLimit the
// longest that can be declared, so that a forgotten one ends within a day.
const (
	VisitLength = 2 * time.Hour
	VisitLimit  = 24 * time.Hour
)

// entries is the journal in the order of its times. The caller holds d.mu.
func (d *Desk) entries() []aquarium.Entry {
	es := slices.Collect(maps.Values(d.journal))
	slices.SortFunc(es, func(a, b aquarium.Entry) int {
		return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.ID, b.ID))
	})
	return es
}

// Journal lists the entries about a site and tank (empty: any) that reach into
// from <= t < to, oldest first; a zero to means no end.
func (d *Desk) Journal(site aquarium.SiteID, tank aquarium.TankID, from, to aquarium.Instant) []aquarium.Entry {
	d.mu.Lock()
	defer d.mu.Unlock()
	return slices.DeleteFunc(d.entries(), func(e aquarium.Entry) bool {
		end := max(e.At, e.Until)
		if e.Until == 0 && (e.Kind == aquarium.Visit || e.Kind == aquarium.Deaf) {
			end = d.now()
		}
		return site != "" && e.Site != "" && e.Site != site ||
			tank != "" && e.Tank != "" && e.Tank != tank ||
			end < from || to != 0 && e.At >= to
	})
}

// enter writes an entry, new or in place of the one of its id, and lets the
// benches know of it.
func (c *change) enter(e aquarium.Entry) error {
	if e.ID == "" {
		e.ID = newID(e.At)
	}
	if err := c.tx.Put(shelfJournal, e.ID, e); err != nil {
		return fmt.Errorf("journal: %w", err)
	}
	c.kept = append(c.kept, func() {
		d := c.d
		d.journal[e.ID] = e
		for _, b := range d.benches {
			if b.watch != nil {
				note(b.watch, b.site.ID, []aquarium.Entry{e})
			}
		}
	})
	return nil
}

// place checks that the tank is configured; an empty one means the whole site.
// The caller holds d.mu.
func (d *Desk) place(k aquarium.TankKey) error {
	s := d.site(k.Site)
	switch {
	case s == nil:
		return fmt.Errorf("%w %q", aquarium.ErrUnknownSite, k.Site)
	case k.Tank != "" && s.Tank(k.Tank) == nil:
		return fmt.Errorf("%w %q at site %q", aquarium.ErrUnknownTank, k.Tank, k.Site)
	}
	return nil
}

// StartVisit declares that somebody is working at the tank from now on, for
// the time given (VisitLength when zero, at most VisitLimit). A visit that is
// open there is replaced: its end moves. It ends by itself, with a text.
func (d *Desk) StartVisit(k aquarium.TankKey, length time.Duration, by aquarium.PersonID, note string) (aquarium.Entry, error) {
	if length == 0 {
		length = VisitLength
	}
	if length < time.Minute || length > VisitLimit {
		return aquarium.Entry{}, fmt.Errorf("%w: a visit of %s: want a minute to 24 h", aquarium.ErrNotPossible, length)
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.place(k); err != nil {
		return aquarium.Entry{}, err
	}
	now := d.now()
	e, open := d.openVisit(k)
	if !open {
		e = aquarium.Entry{ID: newID(now), Kind: aquarium.Visit, Site: k.Site, Tank: k.Tank, At: now}
	}
	e.By, e.Until = cmp.Or(by, e.By), now.Add(length)
	e.Note = cmp.Or(note, e.Note)
	err := d.update(func(c *change) error {
		c.kept = append(c.kept, func() { d.visits[e.ID] = true })
		if err := c.tx.Put(shelfVisits, e.ID, true); err != nil {
			return err
		}
		return c.enter(e)
	})
	return e, err
}

// EndVisit ends the visit at the tank now; aquarium.ErrNotPossible when none is
// open there. Who ends it is remembered where nobody is known to have begun it;
// a note is added to the one it began with.
func (d *Desk) EndVisit(k aquarium.TankKey, by aquarium.PersonID, note string) (aquarium.Entry, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.place(k); err != nil {
		return aquarium.Entry{}, err
	}
	e, ok := d.openVisit(k)
	if !ok {
		return aquarium.Entry{}, fmt.Errorf("%w: no visit is open at %s", aquarium.ErrNotPossible, k)
	}
	e.Until, e.By = d.now(), cmp.Or(e.By, by)
	switch {
	case e.Note == "":
		e.Note = note
	case note != "":
		e.Note += "; " + note
	}
	return e, d.update(func(c *change) error {
		if err := c.closeVisit(e.ID); err != nil {
			return err
		}
		return c.enter(e)
	})
}

func (c *change) closeVisit(id string) error {
	c.kept = append(c.kept, func() { delete(c.d.visits, id) })
	return c.tx.Delete(shelfVisits, id)
}

func (d *Desk) openVisit(k aquarium.TankKey) (aquarium.Entry, bool) {
	now := d.now()
	for _, e := range d.entries() {
		if e.Kind == aquarium.Visit && e.Site == k.Site && e.Tank == k.Tank && d.visits[e.ID] && e.Covers(now) {
			return e, true
		}
	}
	return aquarium.Entry{}, false
}

// visitOver closes a visit whose time is up and says so to whoever declared
// it, or to the first who is told of anything high.
func (c *change) visitOver(e aquarium.Entry) error {
	if err := c.closeVisit(e.ID); err != nil {
		return err
	}
	s := c.d.site(e.Site)
	who, by, ok := c.d.toTell(e.By)
	if s == nil || !ok {
		return nil
	}
	m := c.post(KindVisitOver, aquarium.Medium, who, by)
	m.Site, m.Tank = e.Site, e.Tank
	m.Text = text.VisitText(*s, e.Tank, "")
	m.Subject = s.Name + ": the visit has ended"
	return nil
}

// toTell is a person and the channel the ladders tell them by, the first of
// the high ladder where id names nobody. The caller holds d.mu.
func (d *Desk) toTell(id aquarium.PersonID) (aquarium.Person, aquarium.ChannelID, bool) {
	for _, pass := range []bool{true, false} {
		for _, p := range []aquarium.Priority{aquarium.High, aquarium.Medium, aquarium.Low} {
			for _, r := range d.o.CallOut[p] {
				if who, ok := d.person(r.Tell); ok && (!pass || who.ID == id) {
					return who, r.By, true
				}
			}
		}
	}
	return aquarium.Person{}, "", false
}

// HandTest keeps an alkalinity measured by hand, in dKH, which counts from at
// on (zero: now).
func (d *Desk) HandTest(k aquarium.TankKey, kh float64, at aquarium.Instant, by aquarium.PersonID, note string) (aquarium.Entry, error) {
	if !(kh > 0 && kh <= 40) { // beyond any fresh water a tank is filled with; common practice, no source
		return aquarium.Entry{}, fmt.Errorf("%w: an alkalinity of %g dKH: want more than 0 and at most 40", aquarium.ErrNotPossible, kh)
	}
	e := aquarium.Entry{Kind: aquarium.HandTest, Site: k.Site, Tank: k.Tank, At: at, By: by, KH: kh, Note: note}
	return d.happened(e)
}

// Serviced keeps the date of a service visit; trends are shown from there.
func (d *Desk) Serviced(k aquarium.TankKey, at aquarium.Instant, by aquarium.PersonID, note string) (aquarium.Entry, error) {
	return d.happened(aquarium.Entry{Kind: aquarium.Serviced, Site: k.Site, Tank: k.Tank, At: at, By: by, Note: note})
}

// happened enters something people did at a tank, now or earlier.
func (d *Desk) happened(e aquarium.Entry) (aquarium.Entry, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.place(aquarium.TankKey{Site: e.Site, Tank: e.Tank}); err != nil {
		return aquarium.Entry{}, err
	}
	if err := d.when(&e); err != nil {
		return aquarium.Entry{}, err
	}
	return e, d.update(func(c *change) error { return c.enter(e) })
}

// when gives an entry its time, now where it has none, and its id.
func (d *Desk) when(e *aquarium.Entry) error {
	now := d.now()
	if e.At == 0 {
		e.At = now
	}
	if e.At < aquarium.Earliest || e.At > now.Add(aquarium.Ahead) {
		return fmt.Errorf("%w: a %s at %s: want a time after 2020 and not ahead", aquarium.ErrNotPossible, e.Kind, e.At)
	}
	e.ID = newID(e.At)
	return nil
}

// Deaf tells the desk that nothing can be heard (true) or can be again
// (false), since at: silence in between proves nothing. To repeat it is no
// error.
func (d *Desk) Deaf(on bool, at aquarium.Instant, why string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, e := range d.entries() {
		if e.Kind != aquarium.Deaf || e.Until != 0 {
			continue
		}
		if on {
			return nil
		}
		e.Until = max(at, e.At)
		return d.update(func(c *change) error { return c.enter(e) })
	}
	if !on {
		return nil
	}
	return d.update(func(c *change) error {
		return c.enter(aquarium.Entry{Kind: aquarium.Deaf, At: at, Note: why})
	})
}
