package alert

import (
	"fmt"

	"lentic/collector/aquarium"
)

// Own raises or returns a cause that is about lentic itself. To repeat either
// is no error. A cause that is not lentic's own is an error.
func (d *Desk) Own(cause aquarium.Cause, on bool, ev aquarium.Evidence) error {
	if !cause.Own() {
		return fmt.Errorf("alert: cause %q is not about lentic itself", cause)
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.own(cause, on, ev)
}

// own is Own for callers that hold d.mu.
func (d *Desk) own(cause aquarium.Cause, on bool, ev aquarium.Evidence) error {
	id := aquarium.Identity{Cause: cause}
	active := false
	for _, f := range d.files {
		active = active || f.Alarm.Identity == id && f.Alarm.Active
	}
	if on == active {
		return nil
	}
	now := d.now()
	t := aquarium.Transition{
		At: now, Event: aquarium.Raised, Identity: id,
		Priority: cause.Priority(), Since: now, Evidence: ev,
	}
	if !on {
		t.Event = aquarium.Returned
	}
	return d.update(func(c *change) error {
		c.apply(t, now)
		return nil
	})
}
