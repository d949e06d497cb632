package web

import (
	"fmt"
	"time"

	"lentic/collector/aquarium"
	"lentic/web/page"
)

// drawn is a sensor's series with what a line over it needs.
type drawn struct {
	Series
	sensor aquarium.Sensor
	gap    time.Duration
}

// stretch is what is drawn of sensors: from <= t < to, in at most so many points.
type stretch struct {
	from, to aquarium.Instant
	points   int
	told     *verdicts // which readings do not count
}

// draw is the series of one sensor of a tank, the estimated CO2 included.
func (s *Server) draw(site *aquarium.Site, tank *aquarium.Tank, id aquarium.SensorID, x stretch) (drawn, error) {
	if id == page.CO2Estimate.ID && tank.Sensor(id) == nil {
		return s.drawEstimate(site, tank, x, false)
	}
	sensor := tank.Sensor(id)
	if sensor == nil {
		return drawn{}, fmt.Errorf("sensor %q of tank %q: %w", id, tank.ID, aquarium.ErrUnknownSensor)
	}
	k := aquarium.SensorKey{Site: site.ID, Tank: tank.ID, Sensor: id}
	q, begin, every := s.query(k, *sensor, x)
	var series Series
	var enough bool
	var err error
	if !x.told.told() { // sums know nothing of single readings
		series, enough, err = s.summed(k, *sensor, q)
	}
	if err == nil && !enough {
		series, err = Bucketed(q, func(fn func(aquarium.Sample) bool) error {
			return s.samples(k, *sensor, begin, x.to, x.told.mark(id, fn))
		})
	}
	if err != nil {
		return drawn{}, fmt.Errorf("draw %s: %w", k, err)
	}
	return drawn{series, *sensor, series.Gap(every)}, nil
}

// query is what is asked of a sensor, from where on its samples tell it, and its
// interval.
func (s *Server) query(k aquarium.SensorKey, sensor aquarium.Sensor, x stretch) (q Query, begin aquarium.Instant, every time.Duration) {
	every = s.every(k, sensor)
	q = Query{From: x.from, To: x.to, Points: x.points, Held: held(sensor), Hold: 3 * every, Until: min(x.to, s.now())}
	if every <= 0 {
		q.Hold = patience
	}
	if q.Held {
		return q, x.from.Add(-q.Hold), every
	}
	return q, x.from, every
}

// drawCorrected is draw with the drift that calibrations found spread back over
// the time in which it grew: of a pH, and of the CO2 estimated from it.
func (s *Server) drawCorrected(site *aquarium.Site, tank *aquarium.Tank, id aquarium.SensorID, x stretch) (drawn, error) {
	sensor := tank.Sensor(id)
	switch {
	case sensor == nil && id == page.CO2Estimate.ID:
		return s.drawEstimate(site, tank, x, true)
	case sensor == nil:
		return s.draw(site, tank, id, x)
	case sensor.Quantity != aquarium.PH:
		return drawn{}, badRequest("corrected: %s measures %s, and only a pH electrode is calibrated.", id, sensor.Quantity)
	}
	k := aquarium.SensorKey{Site: site.ID, Tank: tank.ID, Sensor: id}
	q, begin, every := s.query(k, *sensor, x)
	series, err := Bucketed(q, func(fn func(aquarium.Sample) bool) error {
		return s.samplesBy(s.meaning(k, *sensor).Corrected(), k, *sensor, begin, x.to, x.told.mark(id, fn))
	})
	if err != nil {
		return drawn{}, fmt.Errorf("draw %s corrected: %w", k, err)
	}
	return drawn{series, *sensor, series.Gap(every)}, nil
}

func (s *Server) drawEstimate(site *aquarium.Site, tank *aquarium.Tank, x stretch, corrected bool) (drawn, error) {
	e, ok := s.estimator(site, tank)
	if !ok {
		return drawn{}, &problem{status: 404, detail: fmt.Sprintf("CO2 cannot be told at tank %q.", tank.ID),
			next: "It needs a pH probe, a water temperature and an alkalinity: alkalinity_dkh, or a hand test."}
	}
	e.corrected, e.told = corrected, x.told
	q := Query{From: x.from, To: x.to, Points: x.points}
	var series Series
	var enough bool
	var err error
	if !x.told.told() {
		series, enough, err = s.summedEstimate(e, q)
	}
	if err == nil && !enough {
		series, err = Bucketed(q, func(fn func(aquarium.Sample) bool) error { return s.estimates(e, x.from, x.to, fn) })
	}
	if err != nil {
		return drawn{}, fmt.Errorf("estimate CO2 of %s: %w", e.tank, err)
	}
	return drawn{series, page.CO2Estimate, series.Gap(s.every(e.key(e.ph.ID), e.ph))}, nil
}

// page is the series as pages take it.
func (d drawn) page() page.Series {
	return page.Series{Sensor: d.sensor, T: d.T, Min: d.Min, Mean: d.Mean, Max: d.Max, Gap: d.gap, Poor: d.Poor, Uncounted: d.Uncounted}
}

// unit is what the series is in.
func (d drawn) unit() aquarium.Unit { return unitOf(d.sensor) }

// unitOf is the unit a sensor's values are shown in.
func unitOf(s aquarium.Sensor) aquarium.Unit {
	if s.Quantity == aquarium.Number {
		return s.Unit
	}
	return s.Quantity.Unit()
}

// strips are the series of some sensors of a tank; one that cannot be read is
// left out and said in the log, for a page with a gap is better than none.
func (s *Server) strips(site *aquarium.Site, tank *aquarium.Tank, ids []aquarium.SensorID, x stretch) []page.Series {
	var out []page.Series
	for _, id := range ids {
		d, err := s.draw(site, tank, id, x)
		if err != nil {
			s.Log.Error("series not drawn", "site", site.ID, "tank", tank.ID, "sensor", id, "err", err)
			continue
		}
		out = append(out, d.page())
	}
	return out
}

// drawable lists a tank's sensors, and the CO2 estimate where there is one.
func (s *Server) drawable(site *aquarium.Site, tank *aquarium.Tank) []aquarium.SensorID {
	var ids []aquarium.SensorID
	for _, sensor := range tank.Sensors {
		ids = append(ids, sensor.ID)
	}
	if _, ok := s.estimator(site, tank); ok {
		ids = append(ids, page.CO2Estimate.ID)
	}
	return ids
}
