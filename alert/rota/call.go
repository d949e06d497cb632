package rota

import (
	"fmt"
	"maps"
	"time"

	"lentic/collector/aquarium"
)

// Call is how far one alarm's ladder has been climbed.
type Call struct {
	// From is the raise: every rung's time counts from here.
	From     aquarium.Instant  `json:"from"`
	Priority aquarium.Priority `json:"priority"`
	// Slots holds, by rung, the planned time that was last told.
	Slots map[string]aquarium.Instant `json:"slots,omitempty"`
}

// Step is one telling that is due.
type Step struct {
	Rung aquarium.Rung
	// At is when the rung's time came; it is earlier than now after quiet
	// hours, and after hours in which lentic did not run.
	At  aquarium.Instant
	key string
}

// Person finds who a rung tells. Somebody it does not know has no quiet hours.
type Person func(aquarium.PersonID) (aquarium.Person, bool)

// Due lists the steps whose time has come at now, in the ladder's order, and
// the next instant at which one more will be; zero when there is none. Repeats
// that were missed are one step, not many. Rungs with a digest are left out.
func Due(rungs []aquarium.Rung, c Call, who Person, now aquarium.Instant) (due []Step, next aquarium.Instant) {
	soonest := func(t aquarium.Instant) {
		if next == 0 || t < next {
			next = t
		}
	}
	for i, r := range rungs {
		if r.Digest != nil {
			continue
		}
		slot, ok := c.slot(i, r, now)
		if !ok {
			continue
		}
		if slot > now {
			soonest(hold(c.Priority, r, who, slot))
			continue
		}
		if t := hold(c.Priority, r, who, now); t > now {
			soonest(t)
			continue
		}
		due = append(due, Step{Rung: r, At: slot, key: key(i, r)})
		if r.Repeat > 0 {
			soonest(hold(c.Priority, r, who, slot.Add(r.Repeat)))
		}
	}
	return due, next
}

// Told returns the call with those steps behind it.
func (c Call) Told(steps []Step) Call {
	slots := make(map[string]aquarium.Instant, len(c.Slots)+len(steps))
	maps.Copy(slots, c.Slots)
	for _, s := range steps {
		slots[s.key] = s.At
	}
	c.Slots = slots
	return c
}

// slot is the rung's next planned time, or the last one that passed untold;
// ok is false when nothing is left of the rung.
func (c Call) slot(i int, r aquarium.Rung, now aquarium.Instant) (at aquarium.Instant, ok bool) {
	base := c.From.Add(r.After)
	last, told := c.Slots[key(i, r)]
	switch {
	case !told:
		at = base
	case r.Repeat > 0:
		at = last.Add(r.Repeat)
	default:
		return 0, false
	}
	if r.Repeat > 0 && at < now {
		at = at.Add(now.Sub(at) / r.Repeat * r.Repeat)
	}
	return at, true
}

// key names a rung by its place and by what it says: a ladder changed while an
// alarm stands starts anew where it differs and stays where it does not.
func key(i int, r aquarium.Rung) string {
	return fmt.Sprintf("%d %s %s %s", i, r.After.Round(time.Second), r.Tell, r.By)
}

// hold is t, or the end of the person's quiet hours where t lies in them and
// the priority can wait.
func hold(p aquarium.Priority, r aquarium.Rung, who Person, t aquarium.Instant) aquarium.Instant {
	person, ok := who(r.Tell)
	if !ok {
		return t
	}
	return Hold(p, person, t)
}

// Heard reports whether any rung has told that person by that channel since
// the raise.
func (c Call) Heard(rungs []aquarium.Rung, p aquarium.PersonID, by aquarium.ChannelID) bool {
	for i, r := range rungs {
		if _, ok := c.Slots[key(i, r)]; ok && r.Tell == p && r.By == by {
			return true
		}
	}
	return false
}
