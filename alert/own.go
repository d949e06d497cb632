package alert

import (
	"fmt"
	"time"

	"lentic/collector/aquarium"
)

// calm is what must be seen before one of lentic's own causes is over: its
// value so many times what it was when it last held, for so long. A cause
// that is not listed is over as soon as it is.
type calm struct {
	times float64
	lasts time.Duration
}

// A disk that hovers at its limit, as the database grows and is pruned, is to
// be told once. Common practice, no source.
var calms = map[aquarium.Cause]calm{aquarium.DiskLow: {times: 1.1, lasts: 10 * time.Minute}}

// calming is one of lentic's own alarms that stands, on its way to be over.
type calming struct {
	edge  float64          // the highest value at which it held
	since aquarium.Instant // 0: it holds
}

// Own raises or returns a cause that is about lentic itself. To repeat either
// is no error, and whoever watches something says so with each look: a cause
// that may hover returns only once it has been clearly over for a while, by the
// evidence of the calls. A cause that is not lentic's own is an error.
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
	now := d.now()
	var stands *file
	for _, f := range d.files {
		if f.Alarm.Identity == id && f.Alarm.Active {
			stands = f
		}
	}
	if stands == nil && !on || stands != nil && !d.isCalm(stands, on, ev, now) {
		return nil
	}
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

// isCalm follows one of lentic's own alarms that stands and reports whether it
// is over. The caller holds d.mu.
func (d *Desk) isCalm(f *file, on bool, ev aquarium.Evidence, now aquarium.Instant) bool {
	want, c := calms[f.Alarm.Cause], d.calming[f.Alarm.ID]
	c.edge = max(c.edge, f.Alarm.Evidence.Value)
	switch {
	case on:
		c.edge, c.since = max(c.edge, ev.Value), 0
	case ev.Value < want.times*c.edge:
		c.since = 0
	case c.since == 0:
		c.since = now
	}
	over := !on && (want == calm{} || c.since != 0 && now.Sub(c.since) >= want.lasts)
	if d.calming[f.Alarm.ID] = c; over {
		delete(d.calming, f.Alarm.ID)
	}
	return over
}
