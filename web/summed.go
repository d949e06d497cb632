package web

import (
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/measure"
)

// For long stretches of time a series is drawn from the sums that the store
// keeps, which cost as much as there are points, and not as there are readings.

// sumsFrom is the width of bucket from which on sums are read. Narrower ones
// would be rounded too much to be a multiple of what sums are kept by.
const sumsFrom = 30 * time.Minute

// sumsWidth is the width of a query's buckets where they are sums: a little
// wider than they need be, so that they are made of whole ones. 0: not worth it.
// The mean of held values is by time; where a bucket has many readings, one
// after the other, their plain mean is as good.
func sumsWidth(q Query) time.Duration {
	w := Width(q.From, q.To, q.Points)
	if w < sumsFrom || q.Held && w < 20*q.Hold {
		return 0
	}
	step := 10 * time.Minute
	for _, longer := range []time.Duration{time.Hour, 24 * time.Hour} {
		if w >= 10*longer {
			step = longer
		}
	}
	return (w + step - 1) / step * step
}

// summed draws a query from sums; false where that is not possible, or there
// are few readings, which are drawn as they are.
func (s *Server) summed(k aquarium.SensorKey, sensor aquarium.Sensor, q Query) (Series, bool, error) {
	width := sumsWidth(q)
	if width == 0 || sensor.Counter || sensor.OnChange {
		return Series{}, false, nil
	}
	b := summing{width: width}
	err := s.sums(k, sensor, q.From, q.To, width, func(p spanned) bool {
		b.add(p)
		return true
	})
	return b.Series, b.n >= q.Points, err
}

// spanned is what the samples of a stretch come to.
type spanned struct {
	at             aquarium.Instant
	n              int // samples, judged or not
	min, mean, max float64
	poor           bool // none is to be judged
}

// sums calls fn with what a sensor's samples come to in stretches of width. A
// sensor's meaning is linear in what it sends but for counters, so the extent
// and mean of the one are those of the other. Where it is not, because a pH in
// mV got another calibration within a stretch, and where nothing counted when
// the sum was made, the readings themselves are looked at.
func (s *Server) sums(k aquarium.SensorKey, sensor aquarium.Sensor, from, to aquarium.Instant, width time.Duration, fn func(spanned) bool) error {
	d, x := s.meaning(k, sensor), s.Desk.Electrode(k)
	var inner error
	err := s.Readings.Sums(k, from, to, width, func(sum aquarium.Sum) bool {
		end := sum.At.Add(width)
		if sum.Good == 0 || x.Turned(sum.At, end) {
			p, ok, err := s.span(k, sensor, max(from, sum.At), min(to, end))
			if p.at = sum.At; err != nil || ok {
				inner = err
				return err == nil && fn(p)
			}
		}
		p, ok := meant(d, k, sum)
		return !ok || fn(p)
	})
	if err == nil {
		err = inner
	}
	return err
}

// meant is what a sum means; false where nothing counts, or nothing can be said
// of its unit.
func meant(d *measure.Deriver, k aquarium.SensorKey, sum aquarium.Sum) (spanned, bool) {
	if sum.Good == 0 {
		return spanned{}, false
	}
	mean := sum.Sum / float64(sum.Good)
	ends := [3]float64{}
	for i, v := range []float64{sum.Min, min(max(mean, sum.Min), sum.Max), sum.Max} { // sums round; a mean lies within
		m, ok := d.Sample(aquarium.Reading{Sensor: k, At: sum.At, Value: v, Unit: sum.Unit})
		if !ok {
			return spanned{}, false
		}
		ends[i] = m.Value
	}
	return spanned{at: sum.At, n: sum.Good + sum.Others, mean: ends[1], min: min(ends[0], ends[2]), max: max(ends[0], ends[2])}, true
}

// span is what the samples of a stretch themselves come to: those that are to
// be judged, or else all. False: there are none.
func (s *Server) span(k aquarium.SensorKey, sensor aquarium.Sensor, from, to aquarium.Instant) (p spanned, ok bool, err error) {
	var good, all tally
	err = s.samples(k, sensor, from, to, func(v aquarium.Sample) bool {
		all.add(v.Value)
		if v.Quality.Judged() {
			good.add(v.Value)
		}
		return true
	})
	t := good
	if good.n == 0 {
		t = all
	}
	if t.n == 0 {
		return p, false, err
	}
	return spanned{n: all.n, min: t.min, mean: t.sum / float64(t.n), max: t.max, poor: good.n == 0}, true, err
}

// summing makes a series of what stretches come to.
type summing struct {
	Series
	width  time.Duration
	n      int
	weight float64 // of the newest bucket
}

// add adds a stretch to its bucket.
func (b *summing) add(p spanned) {
	b.n += p.n
	b.Width = b.width
	at, last := p.at.Floor(b.width), len(b.T)-1
	if last < 0 || b.T[last] != at || b.Poor != nil && b.Poor[last] != p.poor && !p.poor {
		if last >= 0 && b.T[last] == at { // better ones than what is there
			b.drop()
		}
		b.push(at, p.min, p.mean, p.max, p.poor)
		b.weight = float64(p.n)
		return
	}
	if p.poor && (b.Poor == nil || !b.Poor[last]) {
		return
	}
	b.Min[last], b.Max[last] = min(b.Min[last], p.min), max(b.Max[last], p.max)
	b.Mean[last] += (p.mean - b.Mean[last]) * float64(p.n) / (b.weight + float64(p.n))
	b.weight += float64(p.n)
}

func (b *summing) drop() {
	n := len(b.T) - 1
	b.T, b.Min, b.Mean, b.Max, b.Poor = b.T[:n], b.Min[:n], b.Mean[:n], b.Max[:n], b.Poor[:n]
}

// estimateBy is how fine a CO2 estimate is worked out from sums. Within ten
// minutes pH and temperature of some hundred litres hardly part; where a bucket
// is many hours, the mean of an hour's pH serves: a dosing controller's ripple
// of 0.05 moves the mean CO2 by less than one percent.
func estimateBy(width time.Duration) time.Duration {
	if width >= 10*time.Hour {
		return time.Hour
	}
	return 10 * time.Minute
}

// summedEstimate is summed for the estimated CO2: the least of a stretch is at
// its greatest pH.
func (s *Server) summedEstimate(e *estimator, q Query) (Series, bool, error) {
	width := sumsWidth(q)
	if width == 0 || e.ph.Counter || e.temp.Counter || e.corrected {
		return Series{}, false, nil
	}
	by := estimateBy(width)
	var temps []aquarium.Sample
	err := s.sums(e.key(e.temp.ID), e.temp, q.From.Add(-maxTemperatureAge), q.To, by, func(p spanned) bool {
		if !p.poor {
			temps = append(temps, aquarium.Sample{At: p.at, Value: p.mean})
		}
		return true
	})
	if err != nil {
		return Series{}, false, err
	}
	b := summing{width: width}
	err = s.sums(e.key(e.ph.ID), e.ph, q.From, q.To, by, func(p spanned) bool {
		for len(temps) > 0 && temps[0].At <= p.at {
			e.warmth(temps[0])
			temps = temps[1:]
		}
		out := spanned{at: p.at, n: p.n}
		for _, x := range []struct {
			ph float64
			mg *float64
		}{{p.max, &out.min}, {p.mean, &out.mean}, {p.min, &out.max}} {
			v, ok := e.estimate(aquarium.Sample{At: p.at, Value: x.ph})
			if !ok || p.poor {
				return true
			}
			*x.mg = v.Value
		}
		b.add(out)
		return true
	})
	return b.Series, b.n >= q.Points, err
}
