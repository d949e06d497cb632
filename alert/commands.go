package alert

import (
	"fmt"
	"time"

	"lentic/collector/aquarium"
)

// ShelveLimit is the longest an alarm can be shelved at once.
const ShelveLimit = 24 * time.Hour

// Acknowledge says that somebody has taken the alarm on: its ladder ends. To
// repeat it is no error; the first who did stands. Errors are
// aquarium.ErrUnknownAlarm, and aquarium.ErrNotPossible for an alarm that is
// shelved, suppressed, out of service, or over without ever having asked.
func (d *Desk) Acknowledge(id aquarium.AlarmID, by aquarium.PersonID, note string) (aquarium.Alarm, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	f, err := d.look(id)
	if err != nil {
		return aquarium.Alarm{}, err
	}
	a := f.Alarm
	if a.AcknowledgedAt != 0 && (a.State == aquarium.Acknowledged || a.State == aquarium.Normal) {
		return a, nil
	}
	if _, err := acknowledges.after(a.State, a.Active); err != nil {
		return a, err
	}
	return d.alter(id, func(c *change, f *file) {
		a := &f.Alarm
		a.State, _ = acknowledges.after(a.State, a.Active)
		a.AcknowledgedAt, a.AcknowledgedBy, a.Note = c.now, by, note
		f.record(c.now, "acknowledged", by, note)
		c.overtakeCalls(f, "acknowledged before it left")
		if !a.State.Standing() && f.ClearAt != 0 {
			c.allClear(f)
		}
	})
}

// Shelve silences a standing alarm until a time, at most ShelveLimit ahead; if
// it is still true then, it is told again. To repeat it with the same time is
// no error, another time replaces the first. Errors are
// aquarium.ErrUnknownAlarm and aquarium.ErrNotPossible.
func (d *Desk) Shelve(id aquarium.AlarmID, until aquarium.Instant, by aquarium.PersonID, reason string) (aquarium.Alarm, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	f, err := d.look(id)
	if err != nil {
		return aquarium.Alarm{}, err
	}
	a := f.Alarm
	switch now := d.now(); {
	case a.State == aquarium.Shelved && a.ShelvedUntil == until:
		return a, nil
	case until <= now:
		return a, fmt.Errorf("%w: shelve until %s, which is over: want a time within the next 24 h", aquarium.ErrNotPossible, until)
	case until.Sub(now) > ShelveLimit:
		return a, fmt.Errorf("%w: shelve until %s: at most 24 h are allowed", aquarium.ErrNotPossible, until)
	}
	if _, err := shelves.after(a.State, a.Active); err != nil {
		return a, err
	}
	return d.alter(id, func(c *change, f *file) {
		a := &f.Alarm
		a.State, _ = shelves.after(a.State, a.Active)
		a.ShelvedUntil, a.ShelvedBy, a.ShelvedFor = until, by, reason
		f.record(c.now, "shelved", by, reason)
		c.overtakeCalls(f, "shelved before it left")
	})
}

// alter changes one standing alarm and returns it as it is then.
func (d *Desk) alter(id aquarium.AlarmID, fn func(*change, *file)) (aquarium.Alarm, error) {
	var f *file
	err := d.update(func(c *change) error {
		f = c.open(id)
		fn(c, f)
		return nil
	})
	if err != nil {
		return aquarium.Alarm{}, err
	}
	return f.Alarm, nil
}
