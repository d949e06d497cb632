package alert

import (
	"slices"
	"time"

	"lentic/alert/detect"
	"lentic/alert/rota"
	"lentic/alert/text"
	"lentic/collector/aquarium"
)

// settle is how long an alarm that has come back before must stay normal until
// its all-clear is told: one that flutters all night wakes nobody twice for
// the same news. Common practice, no source.
const settle = 15 * time.Minute

// chain is the order of names for one trouble, the worst first.
var chain = detect.Chain()

// apply brings one transition into the alarms and writes the messages that
// follow from it. from is the raise that a new ladder counts from.
func (c *change) apply(t aquarium.Transition, from aquarium.Instant) {
	switch t.Event {
	case aquarium.Raised:
		c.raised(t, from)
	case aquarium.Returned:
		if f := c.find(t.Identity); f != nil && f.Alarm.Active {
			c.returned(f, t.At, "")
		}
	case aquarium.Worsened:
		if f := c.find(t.Identity); f != nil {
			c.worsened(f, t, from)
		}
	case aquarium.Renamed:
		c.renamed(t, from)
	case aquarium.Suppressed:
		c.aside(t, suppresses)
	case aquarium.OutOfService:
		c.aside(t, withdraws)
	case aquarium.ReadingsStopped, aquarium.ReadingsBack:
		if f := c.find(t.Identity); f != nil && f.Alarm.Active {
			f.Alarm.Evidence = t.Evidence
			f.record(t.At, string(t.Event), "", "")
		}
	}
}

// begin opens the file of an alarm that nobody has heard of.
func (c *change) begin(t aquarium.Transition) *file {
	f := &file{Alarm: aquarium.Alarm{
		ID: aquarium.AlarmID(newID(t.At)), Identity: t.Identity, State: aquarium.Normal,
	}}
	c.files[f.Alarm.ID] = f
	return f
}

// proves takes over what the transition says of the condition.
func (f *file) proves(t aquarium.Transition) {
	a := &f.Alarm
	a.Priority, a.Evidence, a.Parent, a.Projected, a.PageOnly = t.Priority, t.Evidence, t.Parent, t.Projected, t.PageOnly
}

func (c *change) raised(t aquarium.Transition, from aquarium.Instant) {
	f := c.find(t.Identity)
	if f == nil {
		f = c.begin(t)
	}
	a := &f.Alarm
	was := *a
	f.proves(t)
	if was.Active && (was.State == aquarium.Unacknowledged || was.State == aquarium.Acknowledged || was.State == aquarium.Shelved) {
		return // standing already, and no worse
	}
	a.State, _ = occurs.after(was.State, true)
	a.Active = true
	at := max(t.At, was.Returned) // late readings may tell that it never was over
	a.Since, a.Raised, a.Returned = t.Since, at, 0
	f.record(at, string(aquarium.Raised), "", "")
	switch {
	case was.State == aquarium.Shelved:
		return
	case f.ClearAt != 0: // back before anyone heard that it was over
		f.ClearAt = 0
		f.Repeats++
	case was.State == aquarium.ReturnedUnacknowledged:
		f.Repeats++
		c.callOut(f, text.Raised, from)
	case was.State == aquarium.StateOutOfService && len(f.Told) > 0:
		c.callOut(f, text.StillStanding, from)
	default:
		c.callOut(f, text.Raised, from)
	}
}

// aside takes in a condition that is true and not to be told: explained by its
// parent, or there during a visit.
func (c *change) aside(t aquarium.Transition, d deed) {
	f := c.find(t.Identity)
	if f == nil {
		f = c.begin(t)
	}
	a := &f.Alarm
	state, _ := d.after(a.State, true)
	if state == a.State && a.Active {
		a.Evidence = t.Evidence
		return
	}
	if !a.Active {
		a.Since, a.Raised, a.Returned = t.Since, t.At, 0
	}
	a.State, a.Active = state, true
	f.proves(t)
	f.ClearAt = 0
	what := string(t.Event)
	f.record(t.At, what, "", string(t.Parent))
	c.overtake(f, "no longer to be told: "+what)
}

// returned brings an alarm back to normal and owes the all-clear.
func (c *change) returned(f *file, at aquarium.Instant, why string) {
	a := &f.Alarm
	a.State, _ = returns.after(a.State, false)
	a.Active, a.Returned = false, at
	f.record(at, string(aquarium.Returned), "", why)
	c.overtake(f, "returned to normal before it left")
	if a.State == aquarium.ReturnedUnacknowledged && f.Repeats > 0 {
		f.ClearAt = c.now.Add(settle)
		return
	}
	c.allClear(f)
}

// worsened: told again, at once to all who know and by the ladder to the rest.
func (c *change) worsened(f *file, t aquarium.Transition, from aquarium.Instant) {
	a := &f.Alarm
	urgent, unheard := t.Priority > a.Priority, a.PageOnly && !t.PageOnly
	f.proves(t)
	f.record(t.At, string(aquarium.Worsened), "", t.Priority.String())
	if unheard && a.State == aquarium.Unacknowledged {
		c.callOut(f, text.Raised, from) // the tank is no longer running in
		return
	}
	c.worse(f, text.Worse, urgent, from)
}

// worse tells of an alarm that got worse under its own name or another.
func (c *change) worse(f *file, k text.Kind, urgent bool, from aquarium.Instant) {
	a := &f.Alarm
	shelved := a.State == aquarium.Shelved && urgent // it was shelved as something less
	switch {
	case !a.Active || !shelved && a.State != aquarium.Unacknowledged && a.State != aquarium.Acknowledged:
		return
	case a.State == aquarium.Acknowledged || urgent:
		a.ShelvedUntil = 0
		a.State = aquarium.Unacknowledged // re-alarm
		a.AcknowledgedAt, a.AcknowledgedBy, a.Note = 0, "", ""
		known := slices.Clone(f.Told)
		c.callOut(f, k, from)
		c.tell(f, k, known)
	default:
		c.tell(f, k, f.Told)
	}
}

// renamed keeps the alarm under its new name. A worse name is told, for it
// asks for another first act.
func (c *change) renamed(t aquarium.Transition, from aquarium.Instant) {
	old := t.Identity
	old.Cause = t.From
	f := c.find(old)
	if f == nil {
		c.raised(t, from)
		return
	}
	if g := c.find(t.Identity); g != nil && g != f {
		c.close(g, t.At, "continued by alarm "+string(f.Alarm.ID))
	}
	urgent := t.Priority > f.Alarm.Priority
	f.Alarm.Identity = t.Identity
	f.proves(t)
	f.record(t.At, string(aquarium.Renamed), "", string(t.From)+" > "+string(t.Identity.Cause))
	if urgent || slices.Index(chain, t.Identity.Cause) < slices.Index(chain, t.From) {
		c.worse(f, text.Renamed, urgent, from)
	}
}

// close ends an alarm whatever its state.
func (c *change) close(f *file, at aquarium.Instant, why string) {
	a := &f.Alarm
	if a.Active {
		a.Active, a.Returned = false, at
	}
	a.State = aquarium.Normal
	f.record(at, string(aquarium.Returned), "", why)
	c.overtake(f, why)
	c.allClear(f)
}

// callOut begins the ladder at its first rung.
func (c *change) callOut(f *file, k text.Kind, from aquarium.Instant) {
	f.Opening, f.Reached = k, false
	f.Call = rota.Call{From: from, Priority: f.Alarm.Priority}
	f.ClearAt = 0
	c.climb(f)
}
