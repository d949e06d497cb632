package web

import (
	"net/http"
	"time"

	"lentic/collector/aquarium"
	"lentic/web/page"
)

// How much is drawn: the strips of rounds are small, those of a tank are the
// first view of what script then draws finer.
const (
	roundsPoints = 144 // ten minutes each
	tankPoints   = 480 // three minutes each
	day          = 24 * time.Hour
)

func (s *Server) rounds(w http.ResponseWriter, r *http.Request, v visitor) error {
	c := s.scene.Load()
	standing := s.alarms(v, true, 0)
	p := &page.Rounds{Frame: s.said(s.frame(v), r)}
	var messages []OutMessage
	if v.Acts() {
		messages = s.Desk.Outbox(outboxLimit)
	}
	for _, site := range c.seen(v) {
		p.Sites = append(p.Sites, forEyes(*site, v))
		p.SiteAlarms = append(p.SiteAlarms, s.at(standing, aquarium.TankKey{Site: site.ID})...)
		for i := range site.Tanks {
			t := &site.Tanks[i]
			view := s.view(v, site, t, standing)
			if st, ok := view.Told(); ok {
				x := stretch{from: p.Now.Add(-day), to: p.Now + 1, points: roundsPoints}
				x.told = s.verdicts(r.Context(), aquarium.TankKey{Site: site.ID, Tank: t.ID}, x.from, x.to, false) // a hundred tanks are not screened anew
				view.Strips = s.strips(site, t, st.Sensors(), x)
			}
			view.Last = s.lastVisit(aquarium.TankKey{Site: site.ID, Tank: t.ID})
			for i := range view.Alarms {
				view.Alarms[i].Told = s.told(messages, view.Alarms[i].ID)
			}
			p.Tanks = append(p.Tanks, view)
		}
	}
	s.show(w, r, http.StatusOK, p)
	return nil
}

// view is a tank as it stands now, without strips.
func (s *Server) view(v visitor, site *aquarium.Site, tank *aquarium.Tank, standing []aquarium.Alarm) page.TankView {
	k := aquarium.TankKey{Site: site.ID, Tank: tank.ID}
	shown := forEyes(*site, v)
	view := page.TankView{Site: &shown, Tank: tank, Alarms: s.at(standing, k), Latest: s.latest(site, tank), Visit: s.visiting(k)}
	for _, l := range view.Latest {
		view.Heard = max(view.Heard, l.At)
	}
	return view
}

// visiting is the visit under way at a tank; nil: none is.
func (s *Server) visiting(k aquarium.TankKey) *aquarium.Entry {
	now := s.now()
	var under *aquarium.Entry
	for _, e := range s.Desk.Journal(k, now, now+1) {
		if e.Kind == aquarium.Visit && e.Covers(now) {
			under = &e
		}
	}
	return under
}

// forEyes is a site without what is not for a viewer: how to get in, and whom
// to call.
func forEyes(site aquarium.Site, v visitor) aquarium.Site {
	if !v.Acts() {
		site.Access, site.Contacts = "", nil
	}
	return site
}
