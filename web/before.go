package web

import (
	"net/http"
	"strings"

	"lentic/collector/aquarium"
	"lentic/web/page"
)

// The stretch of a sheet: since the last visit, else two weeks, and never more
// than a season.
const (
	sheetDefault = 14 * day
	sheetMost    = 120 * day
	sheetPoints  = 200
)

// How many sheets are made without being asked for, and at once: a sheet of two
// weeks is read from a quarter of a million readings. More tanks than a day's
// round are chosen from.
const (
	sheetsUnasked = 12
	sheetsAtOnce  = 24
)

func (s *Server) beforeAll(w http.ResponseWriter, r *http.Request, v visitor) error {
	c, chosen := s.scene.Load(), map[aquarium.TankKey]bool{}
	for _, name := range r.URL.Query()["tank"] {
		siteID, tankID, _ := strings.Cut(name, "/")
		site, tank, err := c.findTank(v, siteID, tankID)
		if err != nil {
			return err
		}
		chosen[aquarium.TankKey{Site: site.ID, Tank: tank.ID}] = true
	}
	if len(chosen) > sheetsAtOnce {
		return badRequest("%d tanks are chosen: at most %d sheets are made at once.", len(chosen), sheetsAtOnce)
	}
	p := &page.Before{Frame: s.frame(v), All: true}
	p.Offers = s.offers(v, c, chosen)
	for _, o := range p.Offers {
		if o.Chosen || len(chosen) == 0 && len(p.Offers) <= sheetsUnasked {
			p.Sheets = append(p.Sheets, s.sheet(v, o.Site, o.Tank, p.Now))
		}
	}
	s.show(w, r, http.StatusOK, p)
	return nil
}

// offers are the tanks a visitor may have sheets of, and what tells whether to
// go there; no reading is looked at.
func (s *Server) offers(v visitor, c *scene, chosen map[aquarium.TankKey]bool) []page.Offer {
	var out []page.Offer
	standing := s.alarms(v, true, 0)
	for _, site := range c.seen(v) {
		for i := range site.Tanks {
			k := aquarium.TankKey{Site: site.ID, Tank: site.Tanks[i].ID}
			out = append(out, page.Offer{Site: site, Tank: &site.Tanks[i], Last: s.lastVisit(k), Alarms: s.at(standing, k), Chosen: chosen[k]})
		}
	}
	return out
}

func (s *Server) before(w http.ResponseWriter, r *http.Request, v visitor) error {
	site, tank, err := s.scene.Load().findTank(v, r.PathValue("site"), r.PathValue("tank"))
	if err != nil {
		return err
	}
	p := &page.Before{Frame: s.frame(v)}
	p.Sheets = []page.Sheet{s.sheet(v, site, tank, p.Now)}
	s.show(w, r, http.StatusOK, p)
	return nil
}

// sheet is one tank from its last visit to now.
func (s *Server) sheet(v visitor, site *aquarium.Site, tank *aquarium.Tank, now aquarium.Instant) page.Sheet {
	k := aquarium.TankKey{Site: site.ID, Tank: tank.ID}
	shown := forEyes(*site, v)
	sh := page.Sheet{Site: &shown, Tank: tank, Last: s.lastVisit(k), Latest: s.latest(site, tank)}
	sh.From = sh.Last
	if sh.Last == 0 {
		sh.From = now.Add(-sheetDefault)
	}
	sh.From = max(sh.From, now.Add(-sheetMost))
	sh.Sensors = s.strips(site, tank, s.drawable(site, tank), stretch{from: sh.From, to: now + 1, points: sheetPoints})
	for _, a := range s.at(s.alarms(v, false, sh.From), k) {
		if a.State.Standing() || a.Raised >= sh.From {
			sh.Alarms = append(sh.Alarms, a)
		}
	}
	sh.Journal = s.Desk.Journal(k, sh.From, now+1)
	sh.KH, sh.KHAt = s.alkalinity(site, tank)
	return sh
}

// lastVisit is when a service was last noted or a visit ended; 0: never.
func (s *Server) lastVisit(k aquarium.TankKey) aquarium.Instant {
	now, last := s.now(), aquarium.Instant(0)
	for _, e := range s.Desk.Journal(k, 0, now+1) {
		switch {
		case e.Kind == aquarium.Serviced && e.At <= now:
			last = max(last, e.At)
		case e.Kind == aquarium.Visit && e.Until != 0 && e.Until <= now:
			last = max(last, e.Until)
		}
	}
	return last
}
