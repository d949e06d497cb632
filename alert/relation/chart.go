package relation

import "math"

// Chart follows sensors by their two averages. Its zero value has begun to
// settle.
type Chart struct {
	N    int           `json:"n"`    // rows since it began to settle
	Fast [Most]float64 `json:"fast"` // in standard deviations from the model's mean
	Base [Most]float64 `json:"base"`
	// Out is how many rows in a row were out of order; 0: the last was not.
	Out int `json:"out"`
}

// Look is what a row shows.
type Look struct {
	Distance float64 // T² of what is judged, given what is not
	Limit    float64 // what it is held against
	Out      bool    // it passed the limit, and has not come back under half of it
	// Beyond is set where what explains is further out than it was learned to
	// be: nothing is out of order then, for nothing is known of it.
	Beyond bool
}

// Take adds a row; NaN is a value that is missing: its sensor goes with the
// others then, as it is known to.
func (c *Chart) Take(m *Model, row []float64) Look {
	c.move(m, row)
	l := Look{Distance: c.distance(m), Limit: m.limit, Beyond: c.beyond(m)}
	limit := l.Limit
	if c.Out > 0 {
		limit /= 2
	}
	l.Out = c.N > m.o.Settle && l.Distance > limit && !l.Beyond
	if l.Out {
		c.Out++
	} else {
		c.Out = 0
	}
	return l
}

// move brings the averages up to a row. What is out of order does not become the
// normal, for a while.
func (c *Chart) move(m *Model, row []float64) {
	c.N++
	first := 1 / float64(c.N)
	held := c.Out > 0 && c.Out <= m.o.Hold
	missing := false
	for k, v := range row {
		if math.IsNaN(v) {
			missing = true
			continue
		}
		z := m.standard(k, v)
		c.Fast[k] += max(m.o.Fast, first) * (z - c.Fast[k])
		if !held {
			c.Base[k] += max(m.slow[k], first) * (z - c.Base[k])
		}
	}
	if missing && m.inverse != nil {
		c.guess(m, row)
	}
}

// guess moves sensors whose values are missing to where the others let expect
// them, so that they add nothing to the distance. Of several each depends on the
// rest: three rounds come close.
func (c *Chart) guess(m *Model, row []float64) {
	for range 3 {
		for k, v := range row {
			if !math.IsNaN(v) {
				continue
			}
			sum := 0.0
			for j, p := range m.inverse[k] {
				if j != k {
					sum += p * (c.Fast[j] - c.Base[j])
				}
			}
			c.Fast[k] = c.Base[k] - sum/m.inverse[k][k]
		}
	}
}

// distance is T² of the averages' distance: of all sensors, less that of those
// which are given, which leaves that of the others as the given explain them.
func (c *Chart) distance(m *Model) float64 {
	var d, of, out [Most]float64
	n := len(m.mean)
	for k := range n {
		d[k] = c.Fast[k] - c.Base[k]
	}
	t := m.inverse.form(d[:n], out[:n])
	if len(m.given) == 0 {
		return t
	}
	for i, k := range m.given {
		of[i] = d[k]
	}
	return t - m.outside.form(of[:len(m.given)], out[:len(m.given)])
}

// reach is how far out, in standard deviations, what explains may be for the
// explanation to hold: one row in a hundred goes further.
const reach = 2.58

func (c *Chart) beyond(m *Model) bool {
	for _, k := range m.given {
		if math.Abs(c.Fast[k]-c.Base[k]) > reach*m.alone[k] {
			return true
		}
	}
	return false
}

// Shift is how far a sensor's fast average lies from its slow one.
type Shift struct {
	By      float64 // in its own unit
	Alone   float64 // in standard deviations of its own
	Against float64 // likewise, from what all the others let expect of it now
}

// Shifts are those of each sensor, in the order of the rows.
func (c *Chart) Shifts(m *Model) []Shift {
	n := len(m.mean)
	d, p := make([]float64, n), make([]float64, n)
	for k := range n {
		d[k] = c.Fast[k] - c.Base[k]
	}
	m.inverse.times(d, p)
	ss := make([]Shift, n)
	for k := range n {
		// The row of the inverse is the regression on all others.
		ss[k] = Shift{d[k] * m.sd[k], d[k] / m.alone[k], p[k] / math.Sqrt(m.inverse[k][k])}
	}
	return ss
}
