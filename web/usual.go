package web

import (
	"sync"
	"time"

	"lentic/collector/aquarium"
	"lentic/web/page"
)

// What is usual is told from the two weeks before the last day, so that what
// has been wrong since yesterday is not taken for it; and told anew after some
// hours, for it changes slowly. Common practice, no source.
const (
	usualPast  = 14 * day
	usualUntil = day
	usualFor   = 3 * time.Hour
)

// habits remembers what is usual, by sensor.
type habits struct {
	mu   sync.Mutex // guards told
	told map[aquarium.SensorKey]habit
}

type habit struct {
	at    aquarium.Instant // when it was found out
	usual page.Usual
	known bool
}

func newHabits() *habits { return &habits{told: map[aquarium.SensorKey]habit{}} }

func (h *habits) recall(k aquarium.SensorKey, now aquarium.Instant) (habit, bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	v, ok := h.told[k]
	return v, ok && now >= v.at && now.Sub(v.at) < usualFor
}

func (h *habits) keep(k aquarium.SensorKey, v habit) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.told[k] = v
}

// usual is what is usual at a tank at each hour of the day, by sensor; a sensor
// of which that cannot be told is left out.
func (s *Server) usual(site *aquarium.Site, tank *aquarium.Tank) map[aquarium.SensorID]page.Usual {
	out := map[aquarium.SensorID]page.Usual{}
	for _, sensor := range tank.Sensors {
		if !page.HasUsual(sensor) {
			continue
		}
		if h := s.habit(site, tank, sensor.ID); h.known {
			out[sensor.ID] = h.usual
		}
	}
	return out
}

func (s *Server) habit(site *aquarium.Site, tank *aquarium.Tank, id aquarium.SensorID) habit {
	k, now := aquarium.SensorKey{Site: site.ID, Tank: tank.ID, Sensor: id}, s.now()
	told := s.habits.Load() // the configuration's that the answer is for
	if h, ok := told.recall(k, now); ok {
		return h
	}
	to := now.Add(-usualUntil).Floor(page.UsualStep)
	h := habit{at: now}
	d, err := s.draw(site, tank, id, stretch{from: to.Add(-usualPast), to: to, points: int(usualPast / page.UsualStep)})
	if err != nil {
		s.Log.Error("what is usual is not known", "site", site.ID, "tank", tank.ID, "sensor", id, "err", err)
		return h
	}
	var at []aquarium.Instant
	var mean []float64
	for i := range d.T {
		if len(d.Poor) == 0 || !d.Poor[i] {
			at, mean = append(at, d.T[i]), append(mean, d.Mean[i])
		}
	}
	h.usual, h.known = page.UsualOf(at, mean, site.Timezone)
	told.keep(k, h)
	return h
}
