package page

import (
	"fmt"
	"strings"
	"time"
)

// Entry is one thing listed on the pages of intake and texts.
type Entry struct {
	When, Topic, Detail, Payload, Source string
}

// Lead is the first sentence of the intake page.
func (p *Intake) Lead() string {
	n := len(p.Refused) + len(p.Unclaimed) + len(p.Aside)
	switch {
	case n == 0 && p.Heard == 0:
		return "Nothing has arrived yet."
	case n == 0:
		return "Everything that arrived was taken in."
	}
	return "Some of what arrived could not be taken in as it is."
}

// HeardLine says when the last reading came.
func (p *Intake) HeardLine() string {
	if p.Heard == 0 {
		return "No reading has ever been stored. Point a gateway at the broker and publish to lentic/SITE/TANK/SENSOR."
	}
	return "The newest reading of all is of " + clock(p.Heard, p.Now, p.Zone) + ", " + ago(p.Heard, p.Now) + "."
}

// RefusedLines are the refusals.
func (p *Intake) RefusedLines() []Entry {
	var es []Entry
	for _, r := range p.Refused {
		es = append(es, Entry{clock(r.Arrived, p.Now, p.Zone), r.Topic, sentence(r.Detail), shown(r.Payload), "From " + r.Source + ", counted as " + string(r.Reason) + "."})
	}
	return es
}

// UnclaimedLines are the topics no sensor has.
func (p *Intake) UnclaimedLines() []Entry {
	var es []Entry
	for _, u := range p.Unclaimed {
		es = append(es, Entry{Topic: u.Topic, Payload: shown(u.Payload),
			Detail: count(u.Messages, "message", "messages") + ", the last " + ago(u.Last, p.Now) + "."})
	}
	return es
}

// AsideLines are the records set aside for their time.
func (p *Intake) AsideLines() []Entry {
	var es []Entry
	for _, a := range p.Aside {
		way := "behind"
		off := a.Off
		if off > 0 {
			way = "ahead"
		} else {
			off = -off
		}
		e := Entry{Detail: fmt.Sprintf("Gateway %s at %s: %s, its clock %s %s.", a.Gateway, a.Site, count(a.Records, "record", "records"), lasting(off), way)}
		if a.Released {
			e.Detail += " Released."
		} else if a.Gateway != "" {
			e.Payload = fmt.Sprintf("lentic release -c FILE --gateway %s --offset %s", a.Gateway, (-a.Off).Round(time.Second))
		}
		es = append(es, e)
	}
	return es
}

// shown is a payload as far as it can be read: what is not printable is
// written as a dot, and no more than a few lines are shown.
func shown(b []byte) string {
	const most = 400
	cut := len(b) > most
	s := strings.Map(func(r rune) rune {
		if r == '\uFFFD' || r < ' ' && r != '\n' && r != '\t' || r == 0x7f {
			return '·'
		}
		return r
	}, strings.ToValidUTF8(string(b[:min(len(b), most)]), "·"))
	if cut {
		s += " …"
	}
	return s
}

func sentence(s string) string {
	if s == "" || strings.HasSuffix(s, ".") {
		return s
	}
	return s + "."
}

// TextLine is a message as the page shows it.
type TextLine struct {
	To, Subject, Text, State, Link string
	Lost                           bool
}

// Lead is the first sentence of the outbox.
func (p *Texts) Lead() string {
	waiting, lost := 0, 0
	for _, m := range p.Messages {
		switch {
		case m.Lost:
			lost++
		case m.Sent == 0:
			waiting++
		}
	}
	switch {
	case len(p.Messages) == 0:
		return "No message has been written yet."
	case lost > 0:
		return upper(count(lost, "message", "messages")) + " got through to nobody."
	case waiting > 0:
		return upper(count(waiting, "message waits", "messages wait")) + " to be sent."
	}
	return "Every message was taken by its provider."
}

// Lines are the messages.
func (p *Texts) Lines() []TextLine {
	var ls []TextLine
	for _, m := range p.Messages {
		l := TextLine{To: "To " + m.To + " by " + string(m.By), Subject: m.Subject, Text: m.Text, Lost: m.Lost}
		if m.Alarm != "" {
			l.Link = "/alarm/" + string(m.Alarm)
		}
		l.State = p.state(&m)
		if m.Septets > 0 {
			l.State += fmt.Sprintf(" %d of 160 characters.", m.Septets)
		}
		ls = append(ls, l)
	}
	return ls
}

func (p *Texts) state(m *Message) string {
	answer := ""
	if m.Answer != "" {
		answer = " The provider's answer: " + sentence(m.Answer)
	}
	tries := count(m.Tries, "try", "tries")
	switch {
	case m.Lost:
		return "Given up after " + tries + "." + answer
	case m.Sent != 0:
		return "Sent " + clock(m.Sent, p.Now, p.Zone) + ", " + lasting(m.Sent.Sub(m.Written)) + " after it was written." + answer
	case m.Tries > 0:
		return "Not taken yet after " + tries + "; tried again " + clock(m.Due, p.Now, p.Zone) + "." + answer
	case m.Due > p.Now:
		return "Leaves at " + clock(m.Due, p.Now, p.Zone) + "."
	}
	return "About to leave."
}

// Choice is one option of a list.
type Choice struct {
	Value, Text string
	Chosen      bool
}

// Lead is the first sentence of the visit page.
func (p *Visit) Lead() string {
	if p.Visit == nil {
		return "Nobody is noted as working here."
	}
	z := p.Site.Timezone
	s := "Somebody has been working here since " + clock(p.Visit.At, p.Now, z)
	if p.Visit.Until != 0 {
		s += "; it ends by itself at " + clock(p.Visit.Until, p.Now, z)
	}
	return s + "."
}

// Spans are how long a visit may be declared for.
func (p *Visit) Spans() []Choice {
	cs := []Choice{{"30m", "half an hour", false}, {"1h", "1 hour", false}, {"2h", "2 hours", false}, {"4h", "4 hours", false}}
	was := p.Was("start", "for")
	if was == "" {
		was = "2h"
	}
	for i := range cs {
		cs[i].Chosen = cs[i].Value == was
	}
	return cs
}

// Wrong is what was wrong with the form of that act; empty: nothing.
func (p *Visit) Wrong(act string) string {
	if p.Act == act {
		return p.Problem
	}
	return ""
}

// Was is what had been typed into a field of a form that is shown again.
func (p *Visit) Was(act, field string) string {
	if p.Act == act {
		return p.Typed[field]
	}
	return ""
}

// KHLine says which alkalinity is in force.
func (p *Visit) KHLine() string {
	if p.KH <= 0 {
		return "No alkalinity is known here yet. CO2 is estimated from the first test on."
	}
	s := "In force: " + shape{unit: "dKH", digits: 1}.full(p.KH)
	if p.KHAt == 0 {
		return s + ", from the configuration."
	}
	return s + ", tested " + clock(p.KHAt, p.Now, p.Site.Timezone) + "."
}

// Lines are the journal.
func (p *Visit) Lines() []string {
	var ls []string
	for _, e := range p.Journal {
		if text := entry(e, p.Now, p.Site.Timezone); text != "" {
			ls = append(ls, clock(e.At, p.Now, p.Site.Timezone)+": "+text)
		}
	}
	return ls
}

// TankLink leads back.
func (p *Visit) TankLink() string {
	return "/tank/" + string(p.Site.ID) + "/" + string(p.Tank.ID)
}

// Link leads to a page about the tank, under that path.
func (p *TankPage) Link(to string) string { return p.View.link(to) }
