package alert

import (
	"lentic/collector/aquarium"
)

// passTime does what only time brings about: rungs come, shelves and visits
// end, all-clears and digests fall due, old records go. The caller holds d.mu.
func (d *Desk) passTime() error {
	if err := d.reached(); err != nil {
		return err
	}
	now := d.now()
	var calls, clear, shelf []aquarium.AlarmID
	for id, f := range d.files {
		switch {
		case f.Alarm.State == aquarium.Shelved && f.Alarm.ShelvedUntil <= now:
			shelf = append(shelf, id)
		case f.ClearAt != 0 && f.ClearAt <= now:
			clear = append(clear, id)
		case len(d.due(f, now)) > 0:
			calls = append(calls, id)
		}
	}
	var over []aquarium.Entry
	for id := range d.visits {
		if e := d.journal[id]; e.Until <= now {
			over = append(over, e)
		}
	}
	mails := d.mailsDue(now)
	if len(calls)+len(clear)+len(shelf)+len(over)+len(mails) == 0 {
		return d.prune(now)
	}
	return d.update(func(c *change) error {
		for _, id := range calls {
			c.climb(c.open(id))
		}
		for _, id := range clear {
			c.allClear(c.open(id))
		}
		for _, id := range shelf {
			c.unshelve(c.open(id))
		}
		for _, e := range over {
			if err := c.visitOver(e); err != nil {
				return err
			}
		}
		return c.digests(mails)
	})
}
