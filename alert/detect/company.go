package detect

import (
	"slices"
	"time"

	"lentic/alert/relation"
	"lentic/collector/aquarium"
)

// Company is which hours of the last weeks say nothing of how a tank's sensors go
// together: those in which somebody was at work or a cause stood, and those in
// which they went otherwise. A day of UTC is 24 bits, the newest day last.
type Company struct {
	Disturbed []uint32 `json:"disturbed,omitempty"`
	Odd       []uint32 `json:"odd,omitempty"`
}

func (c *Company) disturbed(through, at aquarium.Instant) bool { return bit(c.Disturbed, through, at) }
func (c *Company) odd(through, at aquarium.Instant) bool       { return bit(c.Odd, through, at) }

func bit(days []uint32, through, at aquarium.Instant) bool {
	back := int(through.Sub(at)/time.Hour) - 1 // hours before the last
	d := len(days) - 1 - back/24
	return at < through && d >= 0 && days[d]>>(23-back%24)&1 == 1
}

func hours(n int) time.Duration { return time.Duration(n) * time.Hour }

// hourAfter is how long after its end an hour is looked at: what comes late by a
// few minutes is in it, and a day's last is seen before the day is learned.
const hourAfter = 10 * time.Minute

// company follows, hour by hour, how a tank's sensors go together.
type company struct {
	accord *accord // nil: not known
	chart  relation.Chart
	next   aquarium.Instant // the hour to come
	since  aquarium.Instant // the first hour out of order
	// Hours since the document's end, a bit each.
	from           aquarium.Instant
	disturbed, odd uint64
}

// followCompany takes in each hour that is over.
func (t *tank) followCompany(v *view) {
	c := &t.company
	if c.from != t.learned.Through {
		c.turn(v.w, t)
	}
	if v.now.Floor(time.Minute) != v.now {
		return
	}
	if t.explained(v) {
		c.disturbed |= c.bit(v.now)
	}
	for c.accord != nil && v.now.Sub(c.next) >= time.Hour+hourAfter {
		c.take(v.w, t)
	}
}

// turn begins with a new document.
func (c *company) turn(w *Watch, t *tank) {
	if past := t.learned.Through.Sub(c.from); c.from != 0 && past > 0 && past <= hours(48) {
		c.disturbed, c.odd = c.disturbed>>(past/time.Hour), c.odd>>(past/time.Hour)
	} else {
		c.disturbed, c.odd = 0, 0
	}
	c.from = t.learned.Through
	if c.accord = newAccord(w, t, t.learned); c.accord == nil {
		c.chart = relation.Chart{}
		return
	}
	c.chart, c.since = c.accord.replay(w, t)
	c.next = c.from
}

// take adds the hour to come.
func (c *company) take(w *Watch, t *tank) {
	at := c.next
	c.next = at.Add(time.Hour)
	if c.disturbed&c.bit(at) != 0 {
		c.chart = relation.Chart{} // what is normal after it is to be seen first
		return
	}
	if !c.accord.take(w, t, &c.chart, at) {
		return
	}
	c.odd |= c.bit(at)
	if c.chart.Out == 1 {
		c.since = at
	}
}

// bit is that of the hour of an instant.
func (c *company) bit(at aquarium.Instant) uint64 {
	n := at.Floor(time.Hour).Sub(c.from) / time.Hour
	if n < 0 || n >= 64 {
		return 0
	}
	return 1 << n
}

// lately reports whether the present hour, or the last one, was disturbed.
func (c *company) lately(now aquarium.Instant) bool {
	return c.disturbed&(c.bit(now)|c.bit(now.Add(-time.Hour))) != 0
}

// explained reports whether what the sensors say now is somebody's work, or what
// another cause tells of.
func (t *tank) explained(v *view) bool {
	g := &t.signs
	hands := g.first[probeOut] != 0 || g.first[waterOut] != 0 || g.first[waterIn] != 0
	return hands || t.disturbed(v, boutEnds) || v.now.Sub(t.calibrated(v)) < time.Hour || t.named(v)
}

// named reports whether any other cause of the tank, or of its site, stands.
func (t *tank) named(v *view) bool {
	return slices.ContainsFunc(v.w.order, func(s *state) bool {
		return s.stands && s.id.Cause != aquarium.Unusual && (s.id.Tank == t.config.ID || s.id.Tank == "")
	})
}

// learnCompany adds a day's hours.
func learnCompany(_ *view, t *tank, l *Learned) {
	c, d, o := &t.company, uint32(0), uint32(0)
	if c.from == l.Through.Add(-day) {
		d, o = uint32(c.disturbed&(1<<24-1)), uint32(c.odd&(1<<24-1))
	}
	l.Company = Company{add(l.Company.Disturbed, d, hoursKept/24), add(l.Company.Odd, o, hoursKept/24)}
}
