package page

import (
	"fmt"
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// What is said of readings that do not count, beside the value, on the strip and
// beneath it: what they are taken for, and since when. A hollow mark alone would be
// read as a colour is.

// takenFor is what such readings are taken for.
var takenFor = map[aquarium.Quality]string{
	aquarium.OutOfRange: "impossible value",
	aquarium.Spike:      "outlier",
	aquarium.Frozen:     "value frozen",
	aquarium.InAir:      "probe in air",
	aquarium.Electrical: "steps with a switched load",
}

// NotCounted says in words that nothing of a sensor counts at the moment, as "not
// counted: probe in air since 14:05". since 0: not known.
func NotCounted(q aquarium.Quality, since, now aquarium.Instant, zone *time.Location) string {
	s := "not counted: " + takenFor[q]
	if since != 0 {
		s += " since " + clock(since, now, zone)
	}
	return s
}

// uncounted is NotCounted of a value, empty where it counts. An estimate is no
// probe: what it rests on is said.
func (v Latest) uncounted(now aquarium.Instant, zone *time.Location) string {
	switch {
	case v.Quality.Judged():
		return ""
	case v.Sensor.ID == CO2Estimate.ID && v.Since != 0:
		return "not told: pH or temperature not counted since " + clock(v.Since, now, zone)
	}
	return NotCounted(v.Quality, v.Since, now, zone)
}

// spell is a stretch of a strip in which readings did not count, for one reason.
type spell struct {
	from, to aquarium.Instant
	quality  aquarium.Quality
	n        int // readings
}

// spells joins what does not count as a line joins what does.
func (s Series) spells() []spell {
	var xs []spell
	for _, u := range s.Uncounted {
		if k := len(xs) - 1; k >= 0 && xs[k].quality == u.Quality && (s.Gap <= 0 || u.T.Sub(xs[k].to) <= s.Gap) {
			xs[k].to, xs[k].n = u.T, xs[k].n+u.N
			continue
		}
		xs = append(xs, spell{u.T, u.T, u.Quality, u.N})
	}
	return xs
}

// said tells the spells of a series in words, reason by reason: "probe in air 14:05
// to 14:20". Of many the last is told, and how many there are.
func (c canvas) said(s Series) []string {
	var words []string
	all := s.spells()
	for q := aquarium.OutOfRange; q <= aquarium.Electrical; q++ {
		of := slices.DeleteFunc(slices.Clone(all), func(x spell) bool { return x.quality != q })
		switch n := len(of); {
		case n > 2:
			words = append(words, fmt.Sprintf("%s %d times, the last %s", takenFor[q], n, c.when(of[n-1])))
		default:
			for _, x := range of {
				words = append(words, takenFor[q]+" "+c.when(x))
			}
		}
	}
	return words
}

// when is a spell as somebody at the site would say it.
func (c canvas) when(x spell) string {
	from, to := clock(x.from, c.now, c.zone), x.to.In(c.zone).Format("15:04")
	switch {
	case x.from.In(c.zone).Format("2 15:04") == x.to.In(c.zone).Format("2 15:04"):
		return from
	case x.from.In(c.zone).Day() != x.to.In(c.zone).Day():
		to = clock(x.to, c.now, c.zone)
	}
	return from + " to " + to
}

// uncounted lists what does not count on the strips, sensor by sensor.
func (c canvas) uncounted(plan []Strip, all []Series) []string {
	var out []string
	tell := func(name string, id aquarium.SensorID) {
		if s, ok := find(all, id); ok {
			if words := c.said(s); len(words) > 0 {
				out = append(out, name+" ("+list(words)+")")
			}
		}
	}
	for _, st := range plan {
		for _, l := range st.Lines {
			tell(l.Name, l.Sensor)
		}
		for _, w := range st.Switches {
			tell(w.Name, w.Sensor)
		}
	}
	return out
}

// dot is a hollow mark: X in per cent, Y on the strip. One that lies beyond the
// strip stands at its edge and points there.
type dot struct {
	X, Y   float64
	Beyond string // a path that points; empty: it is where it stands
}

const pointUp, pointDown = "M-4 4L4 4L0 -4Z", "M-4 -4L4 -4L0 4Z"

// Marks nearer than this to one another are left out: they would be one blot. A
// strip is some 300 to 650 px wide.
const (
	markBeside = 2.0 // per cent
	markAbove  = 7.0 // px
)

// poor are the marks of what does not count.
func (c canvas) poor(s Series, sc scale) []dot {
	var ds []dot
	add := func(at aquarium.Instant, v float64) {
		d := dot{X: round1(percent(at, c.from, c.to)), Y: round1(sc.y(v, c.h))}
		switch {
		case d.Y < 0:
			d.Y, d.Beyond = 6, pointUp
		case d.Y > c.h:
			d.Y, d.Beyond = c.h-6, pointDown
		default:
			d.Y = min(max(d.Y, 3), c.h-3)
		}
		near := func(o dot) bool { return d.X-o.X < markBeside && d.Y-o.Y < markAbove && o.Y-d.Y < markAbove }
		if !slices.ContainsFunc(ds[max(0, len(ds)-6):], near) {
			ds = append(ds, d)
		}
	}
	for _, u := range s.Uncounted {
		add(u.T, u.Min)
		if u.Max != u.Min {
			add(u.T, u.Max)
		}
	}
	if len(s.Uncounted) == 0 { // sums tell no more
		for i := range s.T {
			if s.poor(i) {
				add(s.T[i], s.Mean[i])
			}
		}
	}
	return ds
}

// label is what one of the longest spells of a strip was: above its marks, and
// beside those that stand at an edge.
type label struct {
	X, DX, Y float64 // X in per cent, and DX px from there
	Text     string
	Left     bool // it ends there
}

// labelled is how many spells of a line are labelled, and perLetter how wide a letter
// is on the narrowest strip, in per cent.
const (
	labelled  = 2
	perLetter = 2.0
)

// labels are written where nothing else stands: no other mark, no bound's words.
// What has no room is told beneath the strips.
func (c canvas) labels(s Series, sc scale, marks []dot, bounds []rule) []label {
	taken := slices.Clone(marks)
	for _, b := range bounds {
		if b.Text != "" {
			for x := boundX; x < boundX+perLetter*float64(len(b.Text)); x += perLetter {
				taken = append(taken, dot{X: x, Y: b.TextY})
			}
		}
	}
	xs := s.spells()
	slices.SortStableFunc(xs, func(a, b spell) int { return int(b.to - b.from - (a.to - a.from)) })
	var ls []label
	for _, x := range xs[:min(labelled, len(xs))] {
		l := c.label(x, c.top(s, x, sc))
		from, to := l.X, l.X+perLetter*float64(len(l.Text))
		if l.Left {
			from, to = l.X-perLetter*float64(len(l.Text)), l.X
		}
		if slices.ContainsFunc(taken, func(d dot) bool { return d.X > from && d.X < to && d.Y > l.Y-13 && d.Y < l.Y+7 }) {
			continue
		}
		for ; from < to; from += perLetter {
			taken = append(taken, dot{X: from, Y: l.Y})
		}
		ls = append(ls, l)
	}
	return ls
}

// top is how high the marks of a spell reach.
func (c canvas) top(s Series, x spell, sc scale) float64 {
	top := sc.y(sc.lo, c.h) + 1
	for _, u := range s.Uncounted {
		if u.T >= x.from && u.T <= x.to {
			top = min(top, sc.y(u.Max, c.h))
		}
	}
	return top
}

func (c canvas) label(x spell, top float64) label {
	l := label{X: round1(percent(x.from, c.from, c.to)), Y: round1(top - 8), Text: takenFor[x.quality]}
	l.Left = l.X > 60
	end := round1(percent(x.to, c.from, c.to))
	switch edge := top < 20 || top > c.h; {
	case edge && l.Left:
		l.DX, l.Y = -8, 10
	case edge:
		l.X, l.DX, l.Y = end, 8, 10
	case l.Left:
		l.X = end
	}
	if top > c.h {
		l.Y = c.h - 4
	}
	return l
}
