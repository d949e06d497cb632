package alert

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
)

// LinkLife is how long the link of a text opens its alarm.
const LinkLife = 72 * time.Hour

// ErrUnknownLink: no such token was ever sent, or it has expired. It is an
// aquarium.ErrUnknownAlarm.
var ErrUnknownLink = fmt.Errorf("%w: the link is unknown or has expired", aquarium.ErrUnknownAlarm)

// link is what a token opens; the token itself is not kept, only its hash.
type link struct {
	Alarm  aquarium.AlarmID  `json:"alarm"`
	Person aquarium.PersonID `json:"person"`
	Until  aquarium.Instant  `json:"until"`
}

// link makes a token bound to the alarm and the person, and the address that
// holds it; both are empty where there is no public address to point to.
func (c *change) link(a aquarium.AlarmID, p aquarium.PersonID) (token, url string) {
	if c.d.o.PublicURL == "" {
		return "", ""
	}
	token = rand.Text() // at least 128 bit, letters and digits only: telephones find where it ends
	l := link{Alarm: a, Person: p, Until: c.now.Add(LinkLife)}
	c.links = append(c.links, keptLink{hash(token), l})
	return token, strings.TrimRight(c.d.o.PublicURL, "/") + "/a/" + token
}

type keptLink struct {
	hash string
	link link
}

func hash(token string) string {
	h := sha256.Sum256([]byte(token))
	return hex.EncodeToString(h[:])
}

// ByToken is the alarm that a texted link opens, and who it was sent to.
// Anything but a token in force is ErrUnknownLink. It changes nothing.
func (d *Desk) ByToken(token string) (aquarium.Alarm, aquarium.PersonID, error) {
	var l link
	var ok bool
	err := d.o.Ledger.View(func(tx ledger.Tx) (err error) {
		ok, err = tx.Get(shelfLinks, hash(token), &l)
		return err
	})
	if err != nil {
		return aquarium.Alarm{}, "", err
	}
	if !ok || l.Until <= d.now() {
		return aquarium.Alarm{}, "", ErrUnknownLink
	}
	a, err := d.Alarm(l.Alarm)
	return a, l.Person, err
}

// AcknowledgeByToken acknowledges the alarm the link opens, for the person it
// was sent to, and nothing else.
func (d *Desk) AcknowledgeByToken(token, note string) (aquarium.Alarm, error) {
	a, who, err := d.ByToken(token)
	if err != nil {
		return aquarium.Alarm{}, err
	}
	return d.Acknowledge(a.ID, who, note)
}
