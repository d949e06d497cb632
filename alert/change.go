package alert

import (
	"fmt"
	"slices"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
)

// change is what one transaction of the desk does. It works on copies, so that
// nothing is seen of it when the ledger fails.
type change struct {
	d        *Desk
	tx       ledger.Tx
	now      aquarium.Instant
	files    map[aquarium.AlarmID]*file
	past     []*file
	messages map[string]*OutMessage
	links    []keptLink
	kept     []func() // done once it is on disk
}

// update runs fn in one transaction of the ledger and shows what it changed
// once that is on disk. The caller holds d.mu.
func (d *Desk) update(fn func(c *change) error) error {
	c := &change{
		d: d, now: d.now(),
		files:    map[aquarium.AlarmID]*file{},
		messages: map[string]*OutMessage{},
	}
	err := d.o.Ledger.Update(func(tx ledger.Tx) error {
		c.tx = tx
		if err := fn(c); err != nil {
			return err
		}
		return c.save()
	})
	if err != nil {
		return err
	}
	c.install()
	return nil
}

// open is the standing alarm of that id to be changed, or nil.
func (c *change) open(id aquarium.AlarmID) *file {
	if f, ok := c.files[id]; ok {
		return f
	}
	f, ok := c.d.files[id]
	if !ok {
		return nil
	}
	f = f.clone()
	c.files[id] = f
	return f
}

// find is the standing alarm of that identity to be changed, or nil.
func (c *change) find(i aquarium.Identity) *file {
	var found aquarium.AlarmID
	for id, f := range c.d.files {
		if g, ok := c.files[id]; ok {
			f = g
		}
		if f.Alarm.Identity == i && f.Alarm.State.Standing() && (found == "" || f.Alarm.Active) {
			found = id
		}
	}
	for id, f := range c.files {
		if f.Alarm.Identity == i && f.Alarm.State.Standing() && (found == "" || f.Alarm.Active) {
			found = id
		}
	}
	if found == "" {
		return nil
	}
	return c.open(found)
}

// message is the waiting message of that id to be changed, or nil.
func (c *change) message(id string) *OutMessage {
	if m, ok := c.messages[id]; ok {
		return m
	}
	m, ok := c.d.box[id]
	if !ok {
		return nil
	}
	m = m.clone()
	c.messages[id] = m
	return m
}

// save writes what was changed.
func (c *change) save() error {
	for id, f := range c.files {
		if f.Alarm.State.Standing() {
			if err := c.tx.Put(shelfStanding, string(id), f); err != nil {
				return fmt.Errorf("keep alarm %s: %w", id, err)
			}
			continue
		}
		if err := c.tx.Delete(shelfStanding, string(id)); err != nil {
			return fmt.Errorf("close alarm %s: %w", id, err)
		}
		c.past = append(c.past, f)
	}
	for _, f := range c.past {
		if err := c.tx.Put(shelfPast, string(f.Alarm.ID), f); err != nil {
			return fmt.Errorf("keep alarm %s: %w", f.Alarm.ID, err)
		}
	}
	for _, l := range c.links {
		if err := c.tx.Put(shelfLinks, l.hash, l.link); err != nil {
			return fmt.Errorf("keep link of alarm %s: %w", l.link.Alarm, err)
		}
	}
	for _, m := range c.messages {
		if err := m.save(c.tx); err != nil {
			return fmt.Errorf("keep message %s: %w", m.ID, err)
		}
	}
	return nil
}

// install shows what is on disk now, and reports it.
func (c *change) install() {
	d := c.d
	var changed []aquarium.Alarm
	for id, f := range c.files {
		if f.Alarm.State.Standing() {
			d.files[id] = f
		} else {
			delete(d.files, id)
		}
		changed = append(changed, f.Alarm)
	}
	for _, f := range c.past {
		if _, ok := c.files[f.Alarm.ID]; !ok {
			changed = append(changed, f.Alarm)
		}
	}
	for id, m := range c.messages {
		if m.done() {
			delete(d.box, id)
		} else {
			d.box[id] = m
		}
	}
	if len(c.messages) > 0 {
		d.wakeCourier()
	}
	for _, fn := range c.kept {
		fn()
	}
	slices.SortFunc(changed, byUrgency)
	for _, a := range changed {
		d.o.OnTransition(a)
	}
}
