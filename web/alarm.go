package web

import (
	"context"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"lentic/collector/aquarium"
	"lentic/web/page"
)

// What is drawn around an alarm's onset. Common practice, no source.
const (
	beforeOnset    = 6 * time.Hour
	afterOnset     = 2 * time.Hour
	evidencePoints = 480
)

func (s *Server) alarm(w http.ResponseWriter, r *http.Request, v visitor) error {
	a, err := s.visible(v, r.PathValue("id"))
	if err != nil {
		return err
	}
	p := s.alarmPage(a, v)
	p.Frame = s.said(s.frame(v), r)
	s.show(w, r, http.StatusOK, p)
	return nil
}

// alarmPage is the alarm with its evidence, without frame.
func (s *Server) alarmPage(a aquarium.Alarm, v visitor) *page.AlarmPage {
	p := &page.AlarmPage{Alarm: s.worded(a)}
	ad := advice(a.Cause)
	p.First, p.Then, p.Cautions = ad.First, ad.Then, ad.Cautions
	p.From, p.To = s.around(a)
	if v.Acts() {
		p.Told = s.told(s.Desk.Outbox(outboxLimit), a.ID)
	}
	g := s.scene.Load().grounds(a)
	p.Grounds, p.GroundsAt = g.Lines, g.At
	for _, x := range g.Excluded {
		p.Excluded = append(p.Excluded, x.Text)
	}
	site := s.scene.Load().site(a.Site)
	if site == nil {
		return p
	}
	shown := forEyes(*site, v)
	p.Site = &shown
	if p.Tank = site.Tank(a.Tank); p.Tank == nil {
		return p
	}
	ids := evidence(p.Tank, a)
	if chemistry[a.Cause] {
		if _, ok := s.estimator(site, p.Tank); ok {
			ids = append(ids, page.CO2Estimate.ID)
		}
	}
	x := stretch{from: p.From, to: p.To, points: evidencePoints}
	x.told = s.verdicts(context.Background(), aquarium.TankKey{Site: site.ID, Tank: p.Tank.ID}, x.from, x.to, false) // whoever opens it must not wait
	p.Evidence = s.strips(site, p.Tank, ids, x)
	for _, l := range s.latest(site, p.Tank) {
		for _, id := range ids {
			if l.Sensor.ID == id {
				p.Latest = append(p.Latest, l)
			}
		}
	}
	return p
}

// around is the stretch drawn about an alarm: from before its onset to now,
// or to some time after it was over.
func (s *Server) around(a aquarium.Alarm) (from, to aquarium.Instant) {
	from, to = a.Since.Add(-beforeOnset), s.now()+1
	if !a.Active && a.Returned != 0 {
		to = min(to, a.Returned.Add(afterOnset))
	}
	return from, max(to, from+1)
}

// told lists the messages about an alarm, oldest first.
func (s *Server) told(messages []OutMessage, id aquarium.AlarmID) []page.Told {
	c := s.scene.Load()
	var out []page.Told
	for _, m := range messages {
		if m.Alarm != id {
			continue
		}
		t := page.Told{Name: c.person(m.To), By: m.By, At: m.Sent, Due: m.Due}
		if m.Lost {
			t.Lost = m.Answer
		}
		out = append([]page.Told{t}, out...)
	}
	return out
}

// alarmDeed takes the form of an alarm's page.
func (s *Server) alarmDeed(w http.ResponseWriter, r *http.Request, v visitor) error {
	a, err := s.visible(v, r.PathValue("id"))
	if err != nil {
		return err
	}
	if err := r.ParseForm(); err != nil {
		return badRequest("The form could not be read.")
	}
	done := ""
	switch act := r.PostForm.Get("act"); act {
	case "acknowledge", "":
		done, err = "acknowledged", s.acknowledge(a.ID, v.by(), r.PostForm.Get("note"))
	case "shelve":
		hours, bad := strconv.Atoi(r.PostForm.Get("hours"))
		if bad != nil || hours < 1 || hours > 24 {
			return badRequest("An alarm is shelved for 1 to 24 hours.")
		}
		done, err = "shelved", s.shelve(a.ID, s.now().Add(time.Duration(hours)*time.Hour), v.by(), r.PostForm.Get("reason"))
	default:
		return badRequest("There is no act %q: want acknowledge or shelve.", cut(act, 40))
	}
	if err != nil {
		return err
	}
	http.Redirect(w, r, "/alarm/"+url.PathEscape(string(a.ID))+"?done="+done, http.StatusSeeOther)
	return nil
}
