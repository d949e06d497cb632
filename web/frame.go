package web

import (
	"net/http"
	"strings"

	"lentic/alert/text"
	"lentic/collector/aquarium"
	"lentic/web/page"
)

// door is the frame of a page for nobody in particular.
func (s *Server) door() page.Frame {
	f := page.Frame{Assets: s.assets, Now: s.now(), Speed: s.Speed}
	if s.public != nil {
		f.Public = strings.TrimSuffix(s.public.String(), "/")
	}
	if sites := s.scene.Load().sites; len(sites) > 0 {
		f.Zone = sites[0].Timezone
	}
	return f
}

// frame is the frame of a page for a visitor.
func (s *Server) frame(v visitor) page.Frame {
	f := s.door()
	f.Person, f.Viewer = v.Name, !v.Acts()
	if v.nobody() {
		return f
	}
	for _, a := range s.alarms(v, true, 0) {
		if a.Site == "" {
			f.Own = append(f.Own, s.worded(a))
		}
	}
	return f
}

// said is the frame with a sentence about what was just done, which the
// redirect after a form carries as a short word.
func (s *Server) said(f page.Frame, r *http.Request) page.Frame {
	f.Said = deeds[r.URL.Query().Get("done")]
	return f
}

var deeds = map[string]string{
	"acknowledged": "Acknowledged. Nobody else is called for this alarm.",
	"shelved":      "Shelved. If it is still true then, it is told again.",
	"start":        "The visit has begun. It ends by itself when its time is up.",
	"end":          "The visit is over. Everything is watched again.",
	"hand-test":    "The hand test is noted.",
	"serviced":     "The service is noted. Changes are shown from then on.",
}

// worded is an alarm with the words that belong to it.
func (s *Server) worded(a aquarium.Alarm) page.Alarm {
	c := s.scene.Load()
	p := page.Alarm{Alarm: a, Text: c.sentence(a), By: c.person(a.AcknowledgedBy)}
	if site := c.site(a.Site); site != nil {
		p.SiteName, p.Zone = site.Name, site.Timezone
		if t := site.Tank(a.Tank); t != nil {
			p.TankName = t.Name
			if sensor := t.Sensor(a.Evidence.Sensor); sensor != nil && a.Evidence.LastKnown {
				if r, ok := s.Readings.Latest(aquarium.SensorKey{Site: a.Site, Tank: a.Tank, Sensor: sensor.ID}); ok {
					p.Heard = r.At
				}
			}
		}
	}
	return p
}

// at chooses the alarms of one tank, or of a whole site where Tank is empty.
func (s *Server) at(as []aquarium.Alarm, k aquarium.TankKey) []page.Alarm {
	var out []page.Alarm
	for _, a := range as {
		if a.TankKey() == k {
			out = append(out, s.worded(a))
		}
	}
	return out
}

func advice(c aquarium.Cause) text.Advice { return text.Advise(c) }
