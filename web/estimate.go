package web

import (
	"sort"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/water"
	"lentic/web/page"
)

// maxTemperatureAge is how old the water's temperature may be to count for a
// pH: a tank of some hundred litres changes by tenths of a degree meanwhile,
// and CO2 by about one percent a degree. Common practice, no source.
const maxTemperatureAge = 30 * time.Minute

// estimator tells dissolved CO2 from pH, alkalinity in force and temperature.
// One goroutine at a time may use it.
type estimator struct {
	tank     aquarium.TankKey
	ph, temp aquarium.Sensor
	base     float64          // dKH by the configuration; 0: none
	tests    []aquarium.Entry // hand tests, oldest first
	warm     aquarium.Sample  // the temperature that counts; At 0: none
	// corrected takes the pH with its electrode's drift spread back.
	corrected bool
	told      *verdicts       // which of pH and temperature do not count
	carbon    water.Carbonate // at warm
}

// estimator is that of a tank; false where it lacks a pH probe, a temperature
// probe or an alkalinity.
func (s *Server) estimator(site *aquarium.Site, tank *aquarium.Tank) (*estimator, bool) {
	e := &estimator{tank: aquarium.TankKey{Site: site.ID, Tank: tank.ID}, base: tank.AlkalinityDKH}
	ph, temp := tank.Sensor(phSensor(tank)), tank.Sensor(waterSensor(tank))
	if ph == nil || temp == nil || tank.Sensor(page.CO2Estimate.ID) != nil {
		return nil, false
	}
	e.ph, e.temp = *ph, *temp
	for _, j := range s.Desk.Journal(e.tank, 0, s.now()+1) {
		if j.Kind == aquarium.HandTest && j.KH > 0 {
			e.tests = append(e.tests, j)
		}
	}
	sort.SliceStable(e.tests, func(i, j int) bool { return e.tests[i].At < e.tests[j].At })
	return e, e.base > 0 || len(e.tests) > 0
}

// phSensor is the probe that dosing goes by, else the first there is.
func phSensor(t *aquarium.Tank) aquarium.SensorID {
	if c := t.Equipment.CO2; c != nil && c.PH != "" {
		return c.PH
	}
	return firstOf(t, aquarium.PH)
}

// waterSensor is the probe in the water: the heater's, the cooling's, else the
// first temperature that is not the room's.
func waterSensor(t *aquarium.Tank) aquarium.SensorID {
	if h := t.Equipment.Heater; h != nil && h.Temperature != "" {
		return h.Temperature
	}
	if c := t.Equipment.Cooling; c != nil && c.Temperature != "" {
		return c.Temperature
	}
	return firstOf(t, aquarium.Temperature)
}

func firstOf(t *aquarium.Tank, q aquarium.Quantity) aquarium.SensorID {
	for _, s := range t.Sensors {
		room := t.Equipment.Room != nil && t.Equipment.Room.Temperature == s.ID
		if s.Quantity == q && !room {
			return s.ID
		}
	}
	return ""
}

func (e *estimator) key(id aquarium.SensorID) aquarium.SensorKey {
	return aquarium.SensorKey{Site: e.tank.Site, Tank: e.tank.Tank, Sensor: id}
}

// alkalinity is the dKH in force at t and the hand test it is from, 0 for the
// configuration's.
func (e *estimator) alkalinity(t aquarium.Instant) (kh float64, at aquarium.Instant) {
	n := sort.Search(len(e.tests), func(i int) bool { return e.tests[i].At > t })
	if n == 0 {
		return e.base, 0
	}
	return e.tests[n-1].KH, e.tests[n-1].At
}

// warmth notes a temperature of the water.
func (e *estimator) warmth(v aquarium.Sample) {
	if !v.Quality.Judged() || v.At < e.warm.At {
		return
	}
	if e.warm.At != 0 && e.warm.Value == v.Value {
		e.warm.At = v.At
		return
	}
	c, err := water.At(water.Celsius(v.Value))
	if err != nil { // outside of what the sums hold for: better none than a wrong one
		e.warm = aquarium.Sample{}
		return
	}
	e.warm, e.carbon = v, c
}

// estimate is the CO2 at a pH sample; false where it cannot be told.
func (e *estimator) estimate(v aquarium.Sample) (aquarium.Sample, bool) {
	if !v.Quality.Judged() || e.warm.At == 0 || v.At.Sub(e.warm.At).Abs() > maxTemperatureAge {
		return aquarium.Sample{}, false
	}
	kh, _ := e.alkalinity(v.At)
	if kh <= 0 {
		return aquarium.Sample{}, false
	}
	mg, err := e.carbon.CO2(water.PH(v.Value), water.DegreeKH(kh))
	if err != nil {
		return aquarium.Sample{}, false
	}
	return aquarium.Sample{Sensor: e.key(page.CO2Estimate.ID), At: v.At, Value: float64(mg)}, true
}

// estimates calls fn with the estimated CO2 at each pH reading, from <= At <
// to, oldest first: with the last temperature before it.
func (s *Server) estimates(e *estimator, from, to aquarium.Instant, fn func(aquarium.Sample) bool) error {
	var temps []aquarium.Sample
	err := s.samples(e.key(e.temp.ID), e.temp, from.Add(-maxTemperatureAge), to, e.told.mark(e.temp.ID, func(v aquarium.Sample) bool {
		temps = append(temps, v)
		return true
	}))
	if err != nil {
		return err
	}
	d := s.meaning(e.key(e.ph.ID), e.ph)
	if e.corrected {
		d.Corrected()
	}
	return s.samplesBy(d, e.key(e.ph.ID), e.ph, from, to, e.told.mark(e.ph.ID, func(v aquarium.Sample) bool {
		for len(temps) > 0 && temps[0].At <= v.At {
			e.warmth(temps[0])
			temps = temps[1:]
		}
		mg, ok := e.estimate(v)
		return !ok || fn(mg)
	}))
}

// newestEstimate is the CO2 at the newest pH; where that pH or the temperature does
// not count, the last one for which both did.
func (s *Server) newestEstimate(site *aquarium.Site, tank *aquarium.Tank) (page.Latest, bool) {
	e, ok := s.estimator(site, tank)
	if !ok {
		return page.Latest{}, false
	}
	l := page.Latest{Sensor: page.CO2Estimate, Every: s.every(e.key(e.ph.ID), e.ph)}
	ph, ok := s.newest(e.key(e.ph.ID), e.ph)
	if !ok {
		return page.Latest{}, false
	}
	from, to := ph.At, ph.At+1
	for _, id := range []aquarium.SensorID{e.ph.ID, e.temp.ID} {
		if x, ok := s.Desk.Refused(e.key(id)); ok && (l.Since == 0 || x.From < l.Since) {
			l.Quality, l.Since = x.Quality, x.From
			from, to = x.From.Add(-maxTemperatureAge), x.From
		}
	}
	err := s.estimates(e, from, to, func(v aquarium.Sample) bool {
		l.Value, l.At = v.Value, v.At
		return true
	})
	return l, err == nil && l.At != 0
}

// alkalinity is the dKH in force at a tank now, and the hand test it is from.
func (s *Server) alkalinity(site *aquarium.Site, tank *aquarium.Tank) (kh float64, at aquarium.Instant) {
	kh = tank.AlkalinityDKH
	for _, j := range s.Desk.Journal(aquarium.TankKey{Site: site.ID, Tank: tank.ID}, 0, s.now()+1) {
		if j.Kind == aquarium.HandTest && j.KH > 0 && j.At <= s.now() && j.At >= at {
			kh, at = j.KH, j.At
		}
	}
	return kh, at
}
