package web

import (
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/web/page"
)

// counterBack is how far before a stretch a counter's last reading is looked
// for, without which its first rate there cannot be told.
const counterBack = time.Hour

// defaultRefresh is how often an on-change sensor that gives no refresh is
// taken to repeat itself. Common practice, no source.
const defaultRefresh = 15 * time.Minute

// meaning is the deriver of a sensor, with its calibrations where it has any.
func (s *Server) meaning(k aquarium.SensorKey, sensor aquarium.Sensor) *measure.Deriver {
	d := measure.For(k, sensor)
	if sensor.Quantity == aquarium.PH {
		x := s.Desk.Electrode(k)
		d.Calibrated(func() measure.Electrode { return x })
	}
	return d
}

// samples calls fn with what the sensor's readings mean, from <= At < to,
// oldest first, until it returns false.
func (s *Server) samples(k aquarium.SensorKey, sensor aquarium.Sensor, from, to aquarium.Instant, fn func(aquarium.Sample) bool) error {
	return s.samplesBy(s.meaning(k, sensor), k, sensor, from, to, fn)
}

// samplesBy is samples with a deriver of the caller's choice.
func (s *Server) samplesBy(d *measure.Deriver, k aquarium.SensorKey, sensor aquarium.Sensor, from, to aquarium.Instant, fn func(aquarium.Sample) bool) error {
	begin := from
	if sensor.Counter {
		begin = from.Add(-counterBack)
	}
	return s.Readings.Window(k, begin, to, func(r aquarium.Reading) bool {
		v, ok := d.Sample(r)
		return !ok || v.At < from || fn(v)
	})
}

// newest is the latest sample of a sensor; false: there is none.
func (s *Server) newest(k aquarium.SensorKey, sensor aquarium.Sensor) (aquarium.Sample, bool) {
	r, ok := s.Readings.Latest(k)
	if !ok {
		return aquarium.Sample{}, false
	}
	if !sensor.Counter {
		return s.meaning(k, sensor).Sample(r)
	}
	var last aquarium.Sample
	err := s.samples(k, sensor, r.At.Add(-counterBack), r.At+1, func(v aquarium.Sample) bool {
		last = v
		return true
	})
	return last, err == nil && last.At != 0
}

// every is a sensor's reporting interval, of an on-change sensor its refresh;
// 0: not known.
func (s *Server) every(k aquarium.SensorKey, sensor aquarium.Sensor) time.Duration {
	switch {
	case sensor.OnChange && sensor.Refresh > 0:
		return sensor.Refresh
	case sensor.OnChange:
		return defaultRefresh
	case sensor.Every > 0:
		return sensor.Every
	}
	return s.Desk.Interval(k)
}

// held reports whether a sensor's value holds until its next.
func held(sensor aquarium.Sensor) bool {
	return sensor.OnChange || sensor.Quantity == aquarium.Switch
}

// patience is how long a sensor of unknown interval may be quiet before its
// last value is no longer taken for what is. Common practice, no source.
const patience = 15 * time.Minute

// silent reports whether three intervals have passed since at.
func silent(at, now aquarium.Instant, every time.Duration) bool {
	wait := 3 * every
	if every <= 0 {
		wait = patience
	}
	return now.Sub(at) > wait
}

// latest is the newest sample of each of a tank's sensors, and the estimated
// CO2 where it can be told.
func (s *Server) latest(site *aquarium.Site, tank *aquarium.Tank) []page.Latest {
	var out []page.Latest
	for _, sensor := range tank.Sensors {
		k := aquarium.SensorKey{Site: site.ID, Tank: tank.ID, Sensor: sensor.ID}
		l := page.Latest{Sensor: sensor, Every: s.every(k, sensor)}
		if v, ok := s.newest(k, sensor); ok {
			l.Value, l.At, l.Quality = v.Value, v.At, v.Quality
		}
		if x, ok := s.Desk.Refused(k); ok {
			l.Quality, l.Since = x.Quality, x.From
		}
		out = append(out, l)
	}
	if l, ok := s.newestEstimate(site, tank); ok {
		out = append(out, l)
	}
	return out
}
