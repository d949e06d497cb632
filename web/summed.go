package web

import (
	"time"

	"lentic/collector/aquarium"
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
	if width == 0 || sensor.Counter || sensor.OnChange || s.uneven(k, sensor) {
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

// uneven reports whether what a sensor's readings mean is not the same
// straight line all along: a pH in mV, by one calibration after the other, for
// which no sums are kept.
func (s *Server) uneven(k aquarium.SensorKey, sensor aquarium.Sensor) bool {
	if sensor.Quantity != aquarium.PH {
		return false
	}
	_, told := s.Desk.Electrode(k).Told(s.now(), "mV")
	return told || sensor.Unit == "mV"
}

// sums calls fn with what a sensor's samples come to in stretches of width. A
// sensor's meaning is linear in what it sends, but for counters and what is
// uneven, so the extent and mean of the one are those of the other.
func (s *Server) sums(k aquarium.SensorKey, sensor aquarium.Sensor, from, to aquarium.Instant, width time.Duration, fn func(spanned) bool) error {
	d := s.meaning(k, sensor)
	var inner error
	err := s.Readings.Sums(k, from, to, width, func(x aquarium.Sum) bool {
		p := spanned{at: x.At, n: x.Good + x.Others}
		if x.Good == 0 {
			p.poor = true
			inner = s.poor(k, sensor, max(from, x.At), min(to, x.At.Add(width)), &p)
			return inner == nil && fn(p)
		}
		mean := x.Sum / float64(x.Good)
		ends := [3]aquarium.Sample{}
		for i, v := range []float64{x.Min, min(max(mean, x.Min), x.Max), x.Max} { // sums round; a mean lies within
			var ok bool
			if ends[i], ok = d.Sample(aquarium.Reading{Sensor: k, At: x.At, Value: v, Unit: x.Unit}); !ok {
				return true // nothing can be said of that unit
			}
		}
		p.mean = ends[1].Value
		p.min, p.max = min(ends[0].Value, ends[2].Value), max(ends[0].Value, ends[2].Value)
		return fn(p)
	})
	if err == nil {
		err = inner
	}
	return err
}

// poor is the extent of samples none of which is to be judged.
func (s *Server) poor(k aquarium.SensorKey, sensor aquarium.Sensor, from, to aquarium.Instant, p *spanned) error {
	var t tally
	err := s.samples(k, sensor, from, to, func(v aquarium.Sample) bool {
		t.add(v.Value)
		return true
	})
	if t.n > 0 {
		p.min, p.mean, p.max = t.min, t.sum/float64(t.n), t.max
	}
	return err
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
	if width == 0 || e.ph.Counter || e.temp.Counter || e.corrected || s.uneven(e.key(e.ph.ID), e.ph) {
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
