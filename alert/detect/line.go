package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// line sums a stretch of readings up for a straight line of least squares: a
// plain value, however many there were.
type line struct {
	n                     int
	from, to              aquarium.Instant
	v0                    float64 // the first value, so that sums keep their digits
	st, sv, stt, stv, svv float64 // of hours since from, and of values less v0
}

func (l *line) take(p point) {
	if l.n == 0 {
		l.from, l.v0 = p.at, p.v
	}
	t, v := p.at.Sub(l.from).Hours(), p.v-l.v0
	l.n++
	l.to = p.at
	l.st, l.sv, l.stt, l.stv, l.svv = l.st+t, l.sv+v, l.stt+t*t, l.stv+t*v, l.svv+v*v
}

// mean is the mean value, 0 of none.
func (l *line) mean() float64 {
	if l.n == 0 {
		return 0
	}
	return l.v0 + l.sv/float64(l.n)
}

// error is the mean's standard error; readings that do not differ are taken to err
// by leastNoise.
func (l *line) error() float64 {
	if l.n < 2 {
		return math.Inf(1)
	}
	n := float64(l.n)
	return max(leastNoise, math.Sqrt(max(0, l.svv-l.sv*l.sv/n)/(n-1))) / math.Sqrt(n)
}

// pooled is the one slope of several stretches, each with a height of its own.
type pooled struct {
	n, stretches int
	xx, xy, yy   float64
	covered      time.Duration
}

// take adds a stretch of three readings or more.
func (p *pooled) take(l *line) {
	if l.n >= 3 {
		p.add(l)
	}
}

// add adds a stretch, however short.
func (p *pooled) add(l *line) {
	n := float64(l.n)
	p.xx += l.stt - l.st*l.st/n
	p.xy += l.stv - l.st*l.sv/n
	p.yy += l.svv - l.sv*l.sv/n
	p.n, p.stretches, p.covered = p.n+l.n, p.stretches+1, p.covered+l.to.Sub(l.from)
}

// noise is the standard deviation about the lines, 0 where too little tells.
func (p *pooled) noise() float64 {
	freedom := p.n - p.stretches - 1
	if freedom < 3 || p.xx <= 0 {
		return 0
	}
	return math.Sqrt(max(0, p.yy-p.xy*p.xy/p.xx) / float64(freedom))
}

// slope is the change per hour and its standard error; false where there is too
// little to tell. The noise is taken for what leastNoise is at the least, for
// readings that do not differ have more than they show.
func (p *pooled) slope() (perHour, se float64, ok bool) {
	freedom := p.n - p.stretches - 1
	if freedom < 3 || p.xx <= 0 {
		return 0, 0, false
	}
	return p.xy / p.xx, max(leastNoise, p.noise()) / math.Sqrt(p.xx), true
}
