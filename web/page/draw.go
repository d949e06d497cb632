package page

import (
	"fmt"
	"math"
	"sort"
	"strings"
	"time"

	"lentic/collector/aquarium"
)

// A still strip is drawn in two layers: lines on a sheet of 1000 units that
// stretches with the page, and letters placed by per cent, which do not.
const (
	sheet   = 1000.0
	barRow  = 15.0 // height of a row of switch bars
	axisRow = 20.0
)

// Drawing is a still strip, ready for its template.
type Drawing struct {
	Name    string
	Summary string // what the strip says, in words
	H       float64
	Axis    float64 // y of the time labels; 0: none are drawn
	Total   float64
	Nights  []box
	Times   []tick
	Rules   []rule
	Bounds  []rule
	Usual   []string // what is usual at each hour, as outlines
	Lines   []drawnLine
	Poor    []dot
	Labels  []label // what the marks in Poor are
	Bars    []bars
	Marks   []mark
}

type rule struct {
	Y     float64
	Text  string
	TextY float64
}

type drawnLine struct {
	Band, Path   string
	Second       bool
	X, Y         float64 // the line's end; X in per cent
	LabelY       float64
	Short, Value string
	Old          string // when it is of, once it is no longer live; or that it does not count
}

type bars struct {
	Y, TextY float64
	Name     string
	Boxes    []box
}

// canvas is what a strip is drawn on.
type canvas struct {
	from, to, now aquarium.Instant
	zone          *time.Location
	lights        *aquarium.Span
	h             float64
	axis          bool
	happened      []Happening
	strip         int // which strip of the plan this is
	usual         map[aquarium.SensorID]Usual
	latest        []Latest
}

// draw makes the still strip of a plan from what series there are.
func (c canvas) draw(st Strip, all []Series) Drawing {
	var own []Series
	for _, l := range st.Lines {
		if s, ok := find(all, l.Sensor); ok {
			own = append(own, s)
		}
	}
	sc := scaleOf(&st, own)
	d := Drawing{Name: upper(st.Name), H: c.h, Total: c.h, Times: ticks(c.from, c.to, c.zone),
		Nights: nights(c.lights, c.from, c.to, c.zone), Marks: marks(c.happened, c.from, c.to, c.strip),
		Summary: c.summary(st, own)}
	for _, v := range sc.rules() {
		d.Rules = append(d.Rules, c.rule(sc, v, st.form.bare(v), 0, own))
	}
	for _, b := range st.Bounds {
		if b.At >= sc.lo && b.At <= sc.hi {
			d.Bounds = append(d.Bounds, c.rule(sc, b.At, b.Label, boundX, own))
		}
	}
	d.Bounds = apart(d.Bounds)
	for i, l := range st.Lines {
		s, ok := find(all, l.Sensor)
		if !ok || len(s.T) == 0 {
			continue
		}
		d.Usual = append(d.Usual, c.usually(l.Sensor, sc)...)
		d.Lines = append(d.Lines, c.line(st, l, s, sc, i > 0))
		marks := c.poor(s, sc)
		d.Poor, d.Labels = append(d.Poor, marks...), append(d.Labels, c.labels(s, sc, marks, d.Bounds)...)
	}
	spread(d.Lines, c.h)
	for _, w := range st.Switches {
		if s, ok := find(all, w.Sensor); ok {
			d.Bars = append(d.Bars, bars{d.Total + 4, d.Total + 12, w.Name, c.bars(s)})
			d.Total += barRow
		}
	}
	if c.axis {
		d.Axis = d.Total + 15
		d.Total += axisRow
	}
	return d
}

func (c canvas) x(at aquarium.Instant) float64 { return percent(at, c.from, c.to) * sheet / 100 }

// line joins what may be joined: a gap is a gap, and a value that is not good
// is never joined.
func (c canvas) line(st Strip, l Line, s Series, sc scale, second bool) drawnLine {
	var path, band strings.Builder
	start := 0
	flush := func(end int) { // points start..end-1 are one stretch
		if start >= end {
			return
		}
		for i := start; i < end; i++ {
			op := 'L'
			if i == start {
				op = 'M'
			}
			fmt.Fprintf(&path, "%c%.1f %.1f", op, c.x(s.T[i]), sc.y(s.Mean[i], c.h))
			fmt.Fprintf(&band, "%c%.1f %.1f", op, c.x(s.T[i]), sc.y(s.Max[i], c.h))
		}
		if end-start == 1 {
			path.WriteString("h1.5") // a lone value shows as a dot
		}
		for i := end - 1; i >= start; i-- {
			fmt.Fprintf(&band, "L%.1f %.1f", c.x(s.T[i]), sc.y(s.Min[i], c.h))
		}
		band.WriteString("Z")
	}
	for i := range s.T {
		if s.poor(i) {
			flush(i)
			start = i + 1
		} else if i > start && !s.joined(i) {
			flush(i)
			start = i
		}
	}
	flush(len(s.T))
	d := drawnLine{Band: band.String(), Path: path.String(), Second: second, Short: l.Short}
	if len(st.Lines) > 1 {
		d.Short = st.Name + " " + l.Short // "a" alone would be of what?
	}
	n := len(s.T) - 1
	d.X, d.Y = round1(percent(s.T[n], c.from, c.to)), round1(sc.y(s.Mean[n], c.h))
	d.LabelY = d.Y
	d.Value = st.form.full(s.Mean[n])
	for _, v := range c.latest {
		if v.Sensor.ID == l.Sensor && v.At != 0 {
			d.Value = st.form.full(v.Value)
			switch {
			case v.old(c.now):
				d.Old = v.At.In(c.zone).Format("Mon 15:04")
			case !v.Quality.Judged():
				d.Old = "not counted"
			}
		}
	}
	return d
}

// bars are the stretches a switch was on. Its value holds until the next one,
// over a gap only where it reports nothing but changes.
func (c canvas) bars(s Series) []box {
	var bs []box
	for i := range s.T {
		if s.Mean[i] <= 0 {
			continue
		}
		end := c.to
		if i+1 < len(s.T) {
			end = s.T[i+1]
		}
		if !s.Sensor.OnChange && s.Gap > 0 && end.Sub(s.T[i]) > s.Gap {
			end = s.T[i].Add(s.Gap / 3)
		}
		a, b := c.x(max(s.T[i], c.from)), c.x(min(end, c.to))
		// A bucket in which it was on for a part is drawn for that part.
		w := (b - a) * math.Min(1, s.Mean[i])
		if k := len(bs) - 1; k >= 0 && a-(bs[k].X+bs[k].W) < 0.3 {
			bs[k].W = a + w - bs[k].X
			continue
		}
		bs = append(bs, box{a, w})
	}
	for i := range bs {
		bs[i] = box{round1(bs[i].X), math.Max(1.2, round1(bs[i].W))}
	}
	return bs
}

// labelRow is the height a line's end needs for its words, and datedRow what it
// needs more to say when they are of.
const (
	labelRow = 30.0
	datedRow = 13.0
)

func (l drawnLine) row() float64 {
	if l.Old != "" {
		return labelRow + datedRow
	}
	return labelRow
}

// spread moves the labels of line ends apart so that none covers another.
func spread(ls []drawnLine, h float64) {
	order := make([]int, len(ls))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return ls[order[a]].Y < ls[order[b]].Y })
	top := 12.0
	for _, i := range order {
		ls[i].LabelY = math.Max(ls[i].LabelY, top)
		top = ls[i].LabelY + ls[i].row()
	}
	bottom := h + 13 // below the last label's words
	for k := len(order) - 1; k >= 0; k-- {
		l := &ls[order[k]]
		l.LabelY = round1(math.Min(l.LabelY, bottom-l.row()))
		bottom = l.LabelY
	}
}

// boundX is where a bound's words begin, in per cent, as in the template.
const boundX = 34.0

// rule is a line at v, its words from x per cent on: above it, or beneath where they would
// stand above the strip, or less of the curves is in their way.
func (c canvas) rule(sc scale, v float64, text string, x float64, curves []Series) rule {
	r := rule{Y: round1(sc.y(v, c.h)), Text: text}
	inTheWay := func(y float64) (n int) {
		for _, s := range curves {
			for i := range s.T {
				px, py := percent(s.T[i], c.from, c.to), sc.y(s.Mean[i], c.h)
				if px >= x && px <= x+perLetter*float64(len(text)) && py > y-10 && py < y+2 {
					n++
				}
			}
		}
		return n
	}
	r.TextY = round1(r.Y - 3)
	if under := round1(r.Y + 11); r.TextY < 10 || under < c.h && inTheWay(under) < inTheWay(r.TextY) {
		r.TextY = under
	}
	return r
}

// apart drops the words of a bound too near another's to be read.
func apart(rs []rule) []rule {
	sort.SliceStable(rs, func(a, b int) bool { return rs[a].TextY < rs[b].TextY })
	last := -100.0
	for i := range rs {
		if rs[i].TextY-last < 13 {
			rs[i].Text = ""
			continue
		}
		last = rs[i].TextY
	}
	return rs
}

func round1(v float64) float64 { return math.Round(v*10) / 10 }
