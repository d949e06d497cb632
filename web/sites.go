package web

import (
	"net/http"
	"time"

	"lentic/collector/aquarium"
	"lentic/web/page"
)

// The answer to /api/v1/sites.
type (
	siteAnswer struct {
		ID       aquarium.SiteID `json:"id"`
		Name     string          `json:"name"`
		Timezone string          `json:"timezone"`
		Hours    string          `json:"hours,omitempty"`
		Access   string          `json:"access,omitempty"` // keepers only
		Alarms   []alarmAnswer   `json:"alarms"`           // of the whole site
		Tanks    []tankAnswer    `json:"tanks"`
	}
	tankAnswer struct {
		ID        aquarium.TankID `json:"id"`
		Name      string          `json:"name"`
		Sensors   []sensorAnswer  `json:"sensors"`
		Equipment []part          `json:"equipment"`
		Alarms    []alarmAnswer   `json:"alarms"`
	}
	sensorAnswer struct {
		ID       aquarium.SensorID `json:"id"`
		Quantity aquarium.Quantity `json:"quantity"`
		Unit     aquarium.Unit     `json:"unit"`
		Derived  bool              `json:"derived,omitempty"` // computed, not measured
		EveryMS  int64             `json:"every_ms,omitempty"`
		Latest   *latestAnswer     `json:"latest,omitempty"`
	}
	latestAnswer struct {
		T       aquarium.Instant `json:"t"` // Unix ms
		V       float64          `json:"v"`
		Quality string           `json:"quality"`
		Silent  bool             `json:"silent"` // three intervals have passed since
		// NotCounted is there while nothing of the sensor counts.
		NotCounted *refusedAnswer `json:"not_counted,omitempty"`
	}
)

func (s *Server) apiSites(w http.ResponseWriter, r *http.Request, v visitor) error {
	c := s.scene.Load()
	standing := s.alarms(v, true, 0)
	out := []siteAnswer{}
	for _, site := range c.seen(v) {
		a := siteAnswer{ID: site.ID, Name: site.Name, Hours: site.HoursAs, Tanks: []tankAnswer{},
			Alarms: c.answersAt(standing, aquarium.TankKey{Site: site.ID})}
		if site.Timezone != nil {
			a.Timezone = site.Timezone.String()
		}
		if v.Acts() { // how to get at a tank is not for whoever may look at it
			a.Access = site.Access
		}
		for i := range site.Tanks {
			t := &site.Tanks[i]
			a.Tanks = append(a.Tanks, tankAnswer{ID: t.ID, Name: t.Name, Sensors: s.sensorAnswers(site, t),
				Equipment: parts(t.Equipment), Alarms: c.answersAt(standing, aquarium.TankKey{Site: site.ID, Tank: t.ID})})
		}
		out = append(out, a)
	}
	return writeJSON(w, out)
}

func (c *scene) answersAt(as []aquarium.Alarm, k aquarium.TankKey) []alarmAnswer {
	out := []alarmAnswer{}
	for _, a := range as {
		if a.TankKey() == k {
			out = append(out, c.answerOf(a))
		}
	}
	return out
}

func (s *Server) sensorAnswers(site *aquarium.Site, tank *aquarium.Tank) []sensorAnswer {
	out := []sensorAnswer{}
	for _, l := range s.latest(site, tank) {
		a := sensorAnswer{ID: l.Sensor.ID, Quantity: l.Sensor.Quantity, Unit: unitOf(l.Sensor),
			Derived: l.Sensor.ID == page.CO2Estimate.ID && tank.Sensor(l.Sensor.ID) == nil, EveryMS: l.Every.Milliseconds()}
		if l.At != 0 {
			a.Latest = &latestAnswer{T: l.At, V: l.Value, Quality: l.Quality.String(), Silent: silent(l.At, s.now(), l.Every)}
			if !l.Quality.Judged() {
				a.Latest.NotCounted = s.refused(l.Quality, l.Since, site.Timezone)
			}
		}
		out = append(out, a)
	}
	return out
}

// refusedAnswer says what a sensor's readings are taken for that do not count at the
// moment.
type refusedAnswer struct {
	Quality string           `json:"quality"`
	Since   aquarium.Instant `json:"since,omitempty"` // Unix ms; 0: not known
	Text    string           `json:"text"`
}

func (s *Server) refused(q aquarium.Quality, since aquarium.Instant, zone *time.Location) *refusedAnswer {
	return &refusedAnswer{q.String(), since, page.NotCounted(q, since, s.now(), zone)}
}
