package alert

import (
	"fmt"

	"lentic/alert/rota"
	"lentic/collector/aquarium"
)

// Restored says what Restored closed.
type Restored struct {
	Messages int // had not left
	Alarms   int // stand, and begin no telling that fell due before now
	Visits   int // were over
}

// Restored tells the desk that its ledger is from a backup: what people were
// told since is not known, so nothing is told of the time before now. Messages
// that had not left are marked as failed and never sent; steps of a ladder,
// all-clears, digests and ends of visits that fell due since count as told. An
// alarm that stands stays so, and what its ladder has still to come comes, if
// the readings still say so then. It is called before Run.
func (d *Desk) Restored() (r Restored, err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	err = d.update(func(c *change) error {
		for id := range d.box {
			c.closeUnsent(c.message(id))
			r.Messages++
		}
		for id := range d.files {
			if c.closeTelling(c.open(id)) {
				r.Alarms++
			}
		}
		for id := range d.visits {
			if d.journal[id].Until > c.now {
				continue
			}
			if err := c.closeVisit(id); err != nil {
				return err
			}
			r.Visits++
		}
		for _, m := range d.mailsDue(c.now) {
			if err := c.tx.Put(shelfDigests, m.key, c.now); err != nil {
				return err
			}
			c.kept = append(c.kept, func() { d.digests[m.key] = c.now })
		}
		return nil
	})
	if err != nil {
		return r, fmt.Errorf("close the outbox: %w", err)
	}
	return r, nil
}

// closeUnsent ends a message that had not left when the backup was made.
func (c *change) closeUnsent(m *OutMessage) {
	if m.State == Sending {
		m.lastAttempt().Err = "on its way when the backup was made; it may have arrived"
	}
	m.end(Failed, c.now, "not sent: restored from a backup")
}

// closeTelling lets an alarm's ladder stand where it would have come to, and
// reports whether the alarm stands.
func (c *change) closeTelling(f *file) bool {
	// Quiet hours that hold a step back now do not make it one to come.
	nobody := func(aquarium.PersonID) (aquarium.Person, bool) { return aquarium.Person{}, false }
	steps, _ := rota.Due(c.d.rungs(&f.Alarm), f.Call, nobody, c.now)
	f.Call = f.Call.Told(steps)
	f.Told, f.ClearAt = nil, 0
	f.record(c.now, "restored from a backup", "", "")
	return f.Alarm.Active
}
