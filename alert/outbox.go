package alert

import (
	"slices"
	"strings"
	"time"

	"lentic/alert/rota"
	"lentic/alert/text"
	"lentic/collector/aquarium"
	"lentic/store/ledger"
)

// MessageState is how far a message has come.
type MessageState string

const (
	Waiting   MessageState = "waiting"
	Sending   MessageState = "sending" // handed to a provider, no answer yet
	Delivered MessageState = "delivered"
	Overtaken MessageState = "overtaken" // no longer true before it left
	Failed    MessageState = "failed"    // given up
)

// OutMessage is one message to one person, from when it is written until long
// after it has left.
type OutMessage struct {
	ID       string             `json:"id"`
	Alarm    aquarium.AlarmID   `json:"alarm,omitempty"` // empty: a digest, a test or the end of a visit
	Site     aquarium.SiteID    `json:"site,omitempty"`
	Tank     aquarium.TankID    `json:"tank,omitempty"`
	Kind     text.Kind          `json:"kind"`
	Priority aquarium.Priority  `json:"priority"`
	To       aquarium.PersonID  `json:"to"`
	By       aquarium.ChannelID `json:"by"`
	Subject  string             `json:"subject,omitempty"`
	// Text is as it arrives; once it has left, an ellipsis stands for the
	// token of its link.
	Text string `json:"text"`
	// Token is kept until the message has left and not longer.
	Token     string           `json:"token,omitempty"`
	Written   aquarium.Instant `json:"written"`
	NotBefore aquarium.Instant `json:"notBefore"`
	Deadline  aquarium.Instant `json:"deadline"` // given up then
	State     MessageState     `json:"state"`
	Attempts  []Attempt        `json:"attempts,omitempty"`
	Ended     aquarium.Instant `json:"ended,omitempty"`
	Why       string           `json:"why,omitempty"` // of Overtaken and Failed
}

// Attempt is one try to send a message.
type Attempt struct {
	At      aquarium.Instant   `json:"at"`
	Until   aquarium.Instant   `json:"until,omitempty"` // zero: no answer yet
	By      aquarium.ChannelID `json:"by"`
	Receipt string             `json:"receipt,omitempty"` // the provider's own answer
	Err     string             `json:"err,omitempty"`
}

// Kinds of messages that are about no alarm.
const (
	KindDigest    text.Kind = "digest"
	KindVisitOver text.Kind = "visit-over"
)

// giveUp is how long a message is tried: after a day its news is in the next
// one. keep is how long its record stays.
const (
	giveUp = 24 * time.Hour
	keep   = 90 * 24 * time.Hour
)

func (m *OutMessage) done() bool { return m.State != Waiting && m.State != Sending }

func (m *OutMessage) clone() *OutMessage {
	c := *m
	c.Attempts = slices.Clone(m.Attempts)
	return &c
}

// end closes the message and forgets the token.
func (m *OutMessage) end(s MessageState, at aquarium.Instant, why string) {
	m.State, m.Ended, m.Why = s, at, why
	if m.Token != "" {
		m.Text = strings.ReplaceAll(m.Text, m.Token, "…")
		m.Token = ""
	}
}

func (m *OutMessage) save(tx ledger.Tx) error {
	if !m.done() {
		return tx.Put(shelfOutbox, m.ID, m)
	}
	if err := tx.Delete(shelfOutbox, m.ID); err != nil {
		return err
	}
	return tx.Put(shelfSent, m.ID, m)
}

// outgoing is the message as its channel takes it.
func (m *OutMessage) outgoing(to aquarium.Person) rota.Outgoing {
	return rota.Outgoing{ID: m.ID, To: to, Subject: m.Subject, Text: m.Text}
}

// write puts one message about an alarm into the outbox. One of the same kind
// written in the same change stands; an older one that has not left is
// overtaken by it.
func (c *change) write(f *file, k text.Kind, to aquarium.Person, by aquarium.ChannelID) {
	a := f.Alarm
	for id, m := range c.d.box {
		if m.Alarm == a.ID && m.To == to.ID && m.By == by {
			c.message(id)
		}
	}
	for _, m := range c.messages {
		if m.Alarm != a.ID || m.To != to.ID || m.By != by || m.State != Waiting {
			continue
		}
		if m.Written == c.now && m.Kind == k {
			return
		}
		m.end(Overtaken, c.now, "replaced by a newer one")
	}
	m := c.post(k, a.Priority, to, by)
	m.Alarm, m.Site, m.Tank = a.ID, a.Site, a.Tank
	site := aquarium.Site{}
	if s := c.d.site(a.Site); s != nil {
		site = *s
	}
	link := ""
	if k != text.AllClear {
		m.Token, link = c.link(a.ID, to.ID)
	}
	m.Text = text.Message(k, a, site, link)
	m.Subject = text.Subject(k, a, site)
}

// post puts an empty message into the outbox, held over quiet hours where its
// priority can wait.
func (c *change) post(k text.Kind, p aquarium.Priority, to aquarium.Person, by aquarium.ChannelID) *OutMessage {
	m := &OutMessage{
		ID: newID(c.now), Kind: k, Priority: p, To: to.ID, By: by,
		Written: c.now, NotBefore: rota.Hold(p, to, c.now), State: Waiting,
	}
	m.Deadline = m.NotBefore.Add(giveUp)
	c.messages[m.ID] = m
	return m
}
