package alert

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"lentic/alert/text"
	"lentic/collector/aquarium"
)

// KindTest is a message that proves a channel.
const KindTest text.Kind = "test"

// TestText sends one test message to the person, or to a site's contact, by
// every channel that reaches them. receipt holds a line for each that took it;
// err joins what the others answered. aquarium.ErrUnknownPerson when nobody
// has that id, another error when no channel reaches them.
func (d *Desk) TestText(ctx context.Context, id aquarium.PersonID) (receipt string, err error) {
	d.mu.Lock()
	to, ok := d.person(id)
	if !ok {
		to, ok = d.anyContact(id)
	}
	ways, senders := d.channelsOf(to), d.o.Senders
	d.mu.Unlock()
	if !ok {
		return "", fmt.Errorf("%w %q", aquarium.ErrUnknownPerson, id)
	}
	if len(ways) == 0 {
		return "", fmt.Errorf("no channel reaches %q: give a phone number or a mail address, and a channel for it", id)
	}
	var taken []string
	var refused []error
	for _, by := range ways {
		a, err := d.prove(ctx, senders[by], by, to)
		switch {
		case err != nil:
			return "", err
		case a.Err != "":
			refused = append(refused, fmt.Errorf("channel %q: %s", by, a.Err))
		default:
			taken = append(taken, fmt.Sprintf("%s: %s", by, a.Receipt))
		}
	}
	return strings.Join(taken, "\n"), errors.Join(refused...)
}

// prove makes one attempt and keeps its record.
func (d *Desk) prove(ctx context.Context, via Sender, by aquarium.ChannelID, to aquarium.Person) (Attempt, error) {
	now := d.now()
	m := &OutMessage{
		ID: newID(now), Kind: KindTest, Priority: aquarium.Low, To: to.ID, By: by,
		Subject: "lentic: test", Text: text.TestText(to, now),
		Written: now, NotBefore: now, Deadline: now.Add(d.o.Timeout),
	}
	a := Attempt{At: now, By: by}
	receipt, err := d.attempt(ctx, via, by, m, to)
	a.Until, a.Receipt = d.now(), receipt
	state, why := Delivered, ""
	if err != nil {
		a.Err = err.Error()
		state, why = Failed, "a test is sent once"
	}
	m.Attempts = []Attempt{a}
	m.end(state, a.Until, why)
	return a, d.keep(m)
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
