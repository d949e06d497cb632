package relation

import (
	"fmt"
	"math"
)

// Most is the most sensors a Model can hold.
const Most = 32

// clip is how far a single row counts, in standard deviations: a wild value is
// one, however wild.
const clip = 6

// Options say how rows are averaged and judged.
type Options struct {
	Fast float64 // gain of the fast average, 0.02 to 1: what is so now
	// Settle is how many rows the averages take to be worth comparing, after a
	// beginning or a restart; 0: until the fast one is.
	Settle int
	// Hold is for how many rows in a row what is out of order does not become
	// the normal; after that it does. 0: as many as were learned from.
	Hold int
	// RunLength is how many rows it may take on average to a false alarm; 0: as
	// many as were learned from, for they can vouch for nothing rarer.
	RunLength float64
	// Limit is that of T², where it was worked out before; 0: by RunLength.
	Limit float64
	// Least is the least standard deviation of each sensor that is believed,
	// nil for none.
	Least []float64
	// Given marks sensors that are not judged but explain others, as a room
	// does; nil for none.
	Given []bool
}

// Model is what was learned of sensors that were well.
type Model struct {
	o       Options
	mean    []float64 // of single rows
	sd      []float64
	slow    []float64 // gains of the slow averages
	inverse square    // of the covariance of the averages' distance
	alone   []float64 // its standard deviation, sensor by sensor
	given   []int     // the sensors that are not judged
	outside square    // the inverse of those alone
	limit   float64
}

// Learn makes a Model of rows that are evenly spaced, the oldest first, and a
// Chart that has been told all of them. NaN is a value that is missing. It fails
// where there are no more rows than the averages take to settle, where rows
// differ in length, and for more sensors than Most.
func Learn(rows [][]float64, o Options) (*Model, Chart, error) {
	if len(rows) == 0 || len(rows[0]) == 0 || len(rows[0]) > Most {
		return nil, Chart{}, fmt.Errorf("learn a relation: want rows of 1 to %d sensors", Most)
	}
	n := len(rows[0])
	m := &Model{o: o.filled(len(rows)), mean: make([]float64, n), sd: make([]float64, n)}
	skip := 2 * m.o.Settle
	if len(rows) < 2*skip {
		return nil, Chart{}, fmt.Errorf("learn a relation: %d rows, want at least %d", len(rows), 2*skip)
	}
	column := make([]float64, len(rows))
	for k := range n {
		for i, r := range rows {
			if len(r) != n {
				return nil, Chart{}, fmt.Errorf("learn a relation: row %d has %d values, want %d", i, len(r), n)
			}
			column[i] = r[k]
		}
		m.mean[k], m.sd[k] = centre(column)
		if o.Least != nil {
			m.sd[k] = max(m.sd[k], o.Least[k])
		}
		m.sd[k] = max(m.sd[k], 1e-9, 1e-9*math.Abs(m.mean[k]))
		m.slow = append(m.slow, m.foretells(column, k))
	}
	var c Chart
	apart := make([][]float64, n)
	for i, r := range rows {
		c.move(m, r)
		for k := range apart {
			if i >= skip {
				apart[k] = append(apart[k], c.Fast[k]-c.Base[k])
			}
		}
	}
	if !m.judgeBy(covariance(apart, m.o)) {
		return nil, Chart{}, fmt.Errorf("learn a relation: two sensors tell the same to the last digit")
	}
	return m, c, nil
}

func (o Options) filled(rows int) Options {
	if o.Settle == 0 {
		o.Settle = int(math.Ceil(3 / o.Fast))
	}
	if o.Hold == 0 {
		o.Hold = rows
	}
	if o.RunLength == 0 {
		o.RunLength = float64(rows)
	}
	return o
}

// covariance is how the averages lie apart when all is well, as far up as it may
// be. What lies beyond the share that independent rows would give is wandering,
// and of that a short stretch has seen little: it is taken as high as nine in ten
// such stretches would show it.
func covariance(apart [][]float64, o Options) square {
	noise := o.Fast / (2 - o.Fast)
	c, up, n := newSquare(len(apart)), make([]float64, len(apart)), make([]float64, len(apart))
	for a, xs := range apart {
		for b, ys := range apart {
			if both := share(xs, xs) * share(ys, ys); both > 0 {
				c[a][b] = share(xs, ys) / math.Sqrt(both)
			}
		}
		n[a] = looks(xs, len(xs)/4)
		up[a] = noise + max(0, share(xs, xs)-noise)*n[a]/lowChi(n[a])
	}
	far := believed(c, n)
	for a := range c {
		for b := range c {
			c[a][b] *= far * math.Sqrt(up[a]*up[b])
		}
		c[a][a] = up[a]
	}
	return c
}

// believed is how far correlations are: the more of them is more than chance makes
// of so few looks, the further (Schaefer & Strimmer 2005), and by half at least.
func believed(r square, looks []float64) float64 {
	chance, all := 0.0, 0.0
	for a := range r {
		for b := range r {
			if x := r[a][b] * r[a][b]; a != b {
				chance += (1 - x) * (1 - x) / min(looks[a], looks[b])
				all += x
			}
		}
	}
	if all == 0 {
		return 0.5
	}
	return max(0.5, 1-chance/all)
}

// share is the mean product of two series about zero.
func share(xs, ys []float64) (sum float64) {
	for i, x := range xs {
		sum += x * ys[i]
	}
	return sum / float64(len(xs))
}

// judgeBy keeps what the covariance of the averages' distance comes to; false
// where two sensors are one.
func (m *Model) judgeBy(s square) bool {
	for k := range s {
		if m.o.Given != nil && m.o.Given[k] {
			m.given = append(m.given, k)
		}
		m.alone = append(m.alone, math.Sqrt(s[k][k]))
	}
	if m.limit = m.o.Limit; m.limit == 0 {
		m.limit = Limit(len(s)-len(m.given), m.o.Fast, m.o.RunLength)
	}
	var well, known bool
	m.outside, known = s.part(m.given).inverse()
	m.inverse, well = s.inverse()
	return well && known
}

// slowest are the gains a slow average may have, as shares of the fast one's.
var slowest = []float64{0.025, 0.05, 0.1, 0.2}

// foretells is the gain at which the slow average of a sensor told best what its
// next rows came to, as many as the fast one is made of. So what only scatters is
// held against all that has been, and what wanders against what it was of late.
func (m *Model) foretells(xs []float64, k int) float64 {
	zs, ahead := make([]float64, len(xs)), int(math.Ceil(1/m.o.Fast))
	for i, x := range xs {
		zs[i] = m.standard(k, x)
	}
	next, sum := make([]float64, len(zs)), 0.0 // the mean of each row and those ahead of it
	for i := len(zs) - 1; i >= 0; i-- {
		if sum += zs[i]; i+ahead < len(zs) {
			sum -= zs[i+ahead]
		}
		next[i] = sum / float64(ahead)
	}
	gain, least := 0.0, math.Inf(1)
	for _, share := range slowest {
		if off := miss(zs, next[:len(zs)-ahead+1], share*m.o.Fast, 2*m.o.Settle); off < least {
			gain, least = share*m.o.Fast, off
		}
	}
	return gain
}

// miss is by how much, squared, an average of the rows so far misses what comes
// next, from a row on.
func miss(zs, next []float64, gain float64, from int) (sum float64) {
	base := 0.0
	for i, x := range next {
		if i >= from {
			sum += (x - base) * (x - base)
		}
		base += max(gain, 1/float64(i+1)) * (zs[i] - base)
	}
	return sum
}

// standard is a value in standard deviations from the mean, clipped. One that is
// missing is like the mean.
func (m *Model) standard(k int, v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return max(-clip, min(clip, (v-m.mean[k])/m.sd[k]))
}
