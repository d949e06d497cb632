package web

import (
	"net/http"

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

func (s *Server) beforeAll(w http.ResponseWriter, r *http.Request, v visitor) error {
	p := &page.Before{Frame: s.frame(v), All: true}
	for _, site := range s.scene.Load().seen(v) {
		for i := range site.Tanks {
			p.Sheets = append(p.Sheets, s.sheet(v, site, &site.Tanks[i]))
		}
	}
	s.show(w, r, http.StatusOK, p)
	return nil
}

func (s *Server) before(w http.ResponseWriter, r *http.Request, v visitor) error {
	site, tank, err := s.scene.Load().findTank(v, r.PathValue("site"), r.PathValue("tank"))
	if err != nil {
		return err
	}
	p := &page.Before{Frame: s.frame(v), Sheets: []page.Sheet{s.sheet(v, site, tank)}}
	s.show(w, r, http.StatusOK, p)
	return nil
}

// sheet is one tank since its last visit.
func (s *Server) sheet(v visitor, site *aquarium.Site, tank *aquarium.Tank) page.Sheet {
	now, k := s.now(), aquarium.TankKey{Site: site.ID, Tank: tank.ID}
	shown := forEyes(*site, v)
	sh := page.Sheet{Site: &shown, Tank: tank, Last: s.lastVisit(k), Latest: s.latest(site, tank)}
	sh.From = sh.Last
	if sh.Last == 0 {
		sh.From = now.Add(-sheetDefault)
	}
	sh.From = max(sh.From, now.Add(-sheetMost))
	sh.Sensors = s.strips(site, tank, s.drawable(site, tank), sh.From, now+1, sheetPoints)
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
