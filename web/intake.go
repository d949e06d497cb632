package web

import (
	"net/http"

	"lentic/collector/aquarium"
	"lentic/web/page"
)

const (
	refusedLimit = 100
	topicsLimit  = 100
)

func (s *Server) intake(w http.ResponseWriter, r *http.Request, v visitor) error {
	p := &page.Intake{Frame: s.frame(v), Refused: s.Intake.Refused(refusedLimit), Heard: s.heard()}
	for _, t := range s.Intake.UnclaimedTopics() {
		if len(p.Unclaimed) == topicsLimit {
			break
		}
		p.Unclaimed = append(p.Unclaimed, page.UnclaimedTopic{Topic: t.Topic, Messages: t.Messages,
			First: t.Oldest, Last: t.Newest, Payload: t.Last})
	}
	c := s.scene.Load()
	for _, a := range s.Intake.SetAside() {
		g := page.AsideGroup{Site: string(a.Site), Gateway: a.Gateway, Records: a.Records,
			Claimed: a.Claimed, Arrived: a.Arrived, Off: a.Claimed.Sub(a.Arrived)}
		if site := c.site(a.Site); site != nil {
			g.Site = site.Name
		}
		p.Aside = append(p.Aside, g)
	}
	s.show(w, r, http.StatusOK, p)
	return nil
}

// heard is the time of the newest reading of all; 0: there is none.
func (s *Server) heard() aquarium.Instant {
	var newest aquarium.Instant
	for _, k := range s.Readings.Sensors() {
		if r, ok := s.Readings.Latest(k); ok {
			newest = max(newest, r.At)
		}
	}
	return newest
}
