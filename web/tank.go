package web

import (
	"net/http"

	"lentic/collector/aquarium"
	"lentic/web/page"
)

// How far back a tank's page lists what happened.
const (
	recentAlarms  = 7 * day
	recentJournal = 30 * day
)

func (s *Server) tank(w http.ResponseWriter, r *http.Request, v visitor) error {
	site, tank, err := s.scene.Load().findTank(v, r.PathValue("site"), r.PathValue("tank"))
	if err != nil {
		return err
	}
	k := aquarium.TankKey{Site: site.ID, Tank: tank.ID}
	standing := s.alarms(v, true, 0)
	p := &page.TankPage{Frame: s.said(s.frame(v), r), View: s.view(v, site, tank, standing)}
	x := stretch{from: p.Now.Add(-day), to: p.Now + 1, points: tankPoints}
	x.told = s.verdicts(r.Context(), k, x.from, x.to, true)
	p.View.Strips = s.strips(site, tank, s.drawable(site, tank), x)
	p.SiteAlarms = s.at(standing, aquarium.TankKey{Site: site.ID})
	for _, a := range s.at(s.alarms(v, false, p.Now.Add(-recentAlarms)), k) {
		if !a.State.Standing() {
			p.Recent = append(p.Recent, a)
		}
	}
	p.Journal = s.Desk.Journal(k, p.Now.Add(-recentJournal), p.Now+1)
	p.Usual = s.usual(site, tank)
	p.KH, p.KHAt = s.alkalinity(site, tank)
	p.Learning = s.Learning(site.ID)
	p.Blind = s.Blind(*site, *tank)
	s.show(w, r, http.StatusOK, p)
	return nil
}
