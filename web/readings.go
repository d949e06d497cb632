package web

import (
	"net/http"
	"net/url"
	"strconv"
	"time"

	"lentic/collector/aquarium"
	"lentic/web/page"
)

// Points of a series: how many where nobody says, and the most.
const (
	defaultPoints = 800
	maxPoints     = 10000
)

// readingsAnswer is the answer to /api/v1/readings: times in Unix ms.
type readingsAnswer struct {
	Sensor aquarium.SensorID  `json:"sensor"`
	Unit   aquarium.Unit      `json:"unit"`
	GapMS  int64              `json:"gap_ms"`
	T      []aquarium.Instant `json:"t"`
	Min    []float64          `json:"min"`
	Mean   []float64          `json:"mean"`
	Max    []float64          `json:"max"`
	// Poor lists the places in the columns whose values are not judged.
	Poor []int `json:"poor,omitempty"`
	// Screened tells, where it was asked for, whether the readings that do not
	// count are set apart: NotCounted has them, and in the columns they are
	// Poor or left out of their bucket.
	Screened   *bool             `json:"screened,omitempty"`
	NotCounted *notCountedAnswer `json:"not_counted,omitempty"`
	// Corrected: the drift of the pH electrode is spread back.
	Corrected bool `json:"corrected,omitempty"`
}

// notCountedAnswer is the readings that do not count, in the same buckets: columns
// of one length.
type notCountedAnswer struct {
	T       []aquarium.Instant `json:"t"`
	Min     []float64          `json:"min"`
	Mean    []float64          `json:"mean"`
	Max     []float64          `json:"max"`
	N       []int              `json:"n"`       // readings
	Quality []string           `json:"quality"` // of most of them
}

func (s *Server) apiReadings(w http.ResponseWriter, r *http.Request, v visitor) error {
	q := r.URL.Query()
	site, tank, err := s.scene.Load().findTank(v, q.Get("site"), q.Get("tank"))
	if err != nil {
		return err
	}
	from, to, err := s.stretch(q)
	if err != nil {
		return err
	}
	points, err := parsePoints(q.Get("points"))
	if err != nil {
		return err
	}
	corrected, err := flag(q, "corrected")
	if err != nil {
		return err
	}
	quality, err := flag(q, "quality")
	if err != nil {
		return err
	}
	draw, x := s.draw, stretch{from: from, to: to, points: points}
	if corrected {
		draw = s.drawCorrected
	}
	if quality {
		x.told = s.verdicts(r.Context(), aquarium.TankKey{Site: site.ID, Tank: tank.ID}, from, to, true)
	}
	d, err := draw(site, tank, aquarium.SensorID(q.Get("sensor")), x)
	if err != nil {
		return err
	}
	a := readingsOf(d)
	a.Corrected = corrected
	if quality {
		screened := x.told.told()
		a.Screened, a.NotCounted = &screened, notCounted(d.Uncounted)
	}
	return writeJSON(w, a)
}

// flag is a parameter that is true or false, which it is where it is not given.
func flag(q url.Values, name string) (bool, error) {
	switch v := q.Get(name); v {
	case "", "false":
		return false, nil
	case "true":
		return true, nil
	default:
		return false, badRequest("%s is %q: want true or false.", name, cut(v, 40))
	}
}

// notCounted is nil where all count.
func notCounted(xs []page.Uncounted) *notCountedAnswer {
	if len(xs) == 0 {
		return nil
	}
	a := &notCountedAnswer{}
	for _, x := range xs {
		a.T, a.N, a.Quality = append(a.T, x.T), append(a.N, x.N), append(a.Quality, x.Quality.String())
		a.Min, a.Mean, a.Max = append(a.Min, x.Min), append(a.Mean, x.Mean), append(a.Max, x.Max)
	}
	return a
}

func readingsOf(d drawn) readingsAnswer {
	a := readingsAnswer{Sensor: d.sensor.ID, Unit: d.unit(), GapMS: d.gap.Milliseconds(),
		T: d.T, Min: d.Min, Mean: d.Mean, Max: d.Max}
	if len(d.T) == 0 { // empty columns, not null
		a.T, a.Min, a.Mean, a.Max = []aquarium.Instant{}, []float64{}, []float64{}, []float64{}
	}
	for i, poor := range d.Poor {
		if poor {
			a.Poor = append(a.Poor, i)
		}
	}
	return a
}

// stretch is from <= t < to; without them, the last 24 hours.
func (s *Server) stretch(q url.Values) (from, to aquarium.Instant, err error) {
	to = s.now() + 1
	if t := q.Get("to"); t != "" {
		if to, err = parseTime("to", t); err != nil {
			return 0, 0, err
		}
	}
	from = to.Add(-24 * time.Hour)
	if t := q.Get("from"); t != "" {
		if from, err = parseTime("from", t); err != nil {
			return 0, 0, err
		}
	}
	if from >= to {
		return 0, 0, badRequest("from (%s) is not before to (%s).", from, to)
	}
	return from, to, nil
}

// latestTime is the end of the year 9999, the last RFC 3339 can write.
var latestTime = aquarium.At(time.Date(9999, 12, 31, 23, 59, 59, 0, time.UTC))

// parseTime reads RFC 3339 or Unix milliseconds, not before 1970.
func parseTime(name, v string) (aquarium.Instant, error) {
	t, bad := aquarium.Instant(0), false
	if ms, err := strconv.ParseInt(v, 10, 64); err == nil {
		t = aquarium.Instant(ms)
	} else if at, err := time.Parse(time.RFC3339, v); err == nil {
		t = aquarium.At(at)
	} else {
		bad = true
	}
	if bad || t < 0 || t > latestTime {
		return 0, badRequest("%s is %q: want RFC 3339, as 2031-03-02T02:14:30Z, or Unix milliseconds.", name, cut(v, 40))
	}
	return t, nil
}

func parsePoints(v string) (int, error) {
	if v == "" {
		return defaultPoints, nil
	}
	n, err := strconv.Atoi(v)
	if err != nil || n < 1 || n > maxPoints {
		return 0, badRequest("points is %q: want a whole number from 1 to %d.", cut(v, 40), maxPoints)
	}
	return n, nil
}
