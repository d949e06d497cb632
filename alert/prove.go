package alert

import (
	"context"
	"fmt"

	"lentic/alert/text"
	"lentic/collector/aquarium"
)

// KindTest is a message that proves a channel.
const KindTest text.Kind = "test"

// TestText sends one test message to the person by every channel that reaches
// them, and returns what each answered, also where it failed; an Attempt with
// an empty Err was taken. aquarium.ErrUnknownPerson when nobody has that id,
// another error when no channel reaches them.
func (d *Desk) TestText(ctx context.Context, id aquarium.PersonID) ([]Attempt, error) {
	d.mu.Lock()
	to, ok := d.person(id)
	var ways []aquarium.ChannelID
	if !ok {
		to, ok = d.anyContact(id)
	}
	ways = d.channelsOf(to)
	senders := d.o.Senders
	d.mu.Unlock()
	if !ok {
		return nil, fmt.Errorf("%w %q", aquarium.ErrUnknownPerson, id)
	}
	if len(ways) == 0 {
		return nil, fmt.Errorf("no channel reaches %q: give a phone number or a mail address, and a channel for it", id)
	}
	var as []Attempt
	for _, by := range ways {
		now := d.now()
		m := &OutMessage{
			ID: newID(now), Kind: KindTest, Priority: aquarium.Low, To: to.ID, By: by,
			Subject: "lentic: test", Text: text.TestText(to, now), Written: now, NotBefore: now, Deadline: now.Add(d.o.Timeout),
		}
		a := Attempt{At: now, By: by}
		receipt, err := d.attempt(ctx, senders[by], by, m, to)
		a.Until, a.Receipt = d.now(), receipt
		state, why := Delivered, ""
		if err != nil {
			a.Err = err.Error()
			state, why = Failed, "a test is sent once"
		}
		as = append(as, a)
		m.Attempts = []Attempt{a}
		m.end(state, a.Until, why)
		if err := d.keep(m); err != nil {
			return as, err
		}
	}
	return as, nil
}

// keep writes a message that has already left.
func (d *Desk) keep(m *OutMessage) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.update(func(c *change) error {
		c.messages[m.ID] = m
		return nil
	})
}

// anyContact finds a contact of any site. The caller holds d.mu.
func (d *Desk) anyContact(id aquarium.PersonID) (aquarium.Person, bool) {
	for _, b := range d.benches {
		if p, ok := d.recipient(b.site.ID, id); ok {
			return p, true
		}
	}
	return aquarium.Person{}, false
}
