package detect

import (
	"math"
	"slices"
	"sync"

	"lentic/alert/relation"
	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// accord is how a tank's sensors go together, learned of the hours of its last
// two weeks: each by what it comes to at that hour of the day, and what is left
// of all of them by its relation. It is worked out anew of each day's document
// and never changed.
type accord struct {
	of      *Learned
	members []member
	usual   [][24]float64    // of each member, by the hour of the tank's own clock
	middle  aquarium.Instant // of the hours they were learned of
	model   *relation.Model
	judged  int // members that are
}

// member is a sensor that is looked at together with others.
type member struct {
	s     *series
	given bool    // explains the others and is not judged: it has causes of its own
	least float64 // so far it lies from what is usual on any day
	loses float64 // an hour: a filter's flow that clogs, which has a cause of its own
}

const (
	accordHours = 14 * 24
	accordLeast = 6 * 24 // full strength within seven days, whenever in a day they began
	// Ten hours make what is so now: long enough for one wild hour to count for
	// little, and for what shows by day and what shows by night to be seen
	// together; short enough to tell within a day.
	accordGain   = 0.1
	accordSettle = 24 // hours after a disturbance: a day, so that each hour has come once
	accordHold   = 72 // what lasts for three days is how the tank is now
	// One false alarm in a hundred days, were the hours independent; those of a
	// tank wander, what they wander by is taken from above, and six in a row are
	// asked for: that makes it rarer many times over.
	accordRunLength = 100 * 24
	leastMembers    = 2 // judged ones
)

// members are the sensors of a tank that go together. Stores, and what is pumped
// seldom, are no part: their water's whereabouts has its own causes. Warmth and
// air explain much and are told of by others.
func (t *tank) members() (ms []member) {
	e, inRoom := t.config.Equipment, false
	if r := e.Room; r != nil {
		inRoom = t.sensor(r.Temperature) != nil
	}
	for _, s := range t.order {
		m := member{s: s}
		switch s.config.Quantity {
		case aquarium.Volume, aquarium.Mass:
			continue
		case aquarium.Flow:
			m.loses = t.loses(s)
		case aquarium.Level:
			if s != t.level {
				continue
			}
			m.least = 0.7
		case aquarium.Switch:
			switch id := s.config.ID; {
			case e.CO2 != nil && id == e.CO2.Valve:
			case e.Heater != nil && id == e.Heater.Switch:
				m.given = !inRoom // then the room's warmth shows in nothing else
			case e.Lights != nil && id == e.Lights.Switch, e.Cooling != nil && id == e.Cooling.Switch:
				m.given = true
			default:
				continue
			}
			m.least = 0.04 // of the hour
		case aquarium.PH:
			m.least = 0.03
		case aquarium.Temperature, aquarium.Humidity, aquarium.Gas:
			m.given = true
			m.least = map[aquarium.Quantity]float64{aquarium.Temperature: 0.2, aquarium.Humidity: 2, aquarium.Gas: 25}[s.config.Quantity]
		}
		ms = append(ms, m)
	}
	return ms[:min(len(ms), relation.Most)]
}

// ofUsual is the share of what is usual that is a member's least, where its
// quantity has none of its own: no such probe is better. Common practice, no
// source. A filter's flow may lose twice that: what clogs it takes three days to be known
// for a trend.
const (
	ofUsual   = 0.02
	ofFilters = 2 * ofUsual
)

// loses is what a flow falls by in an hour as its filter clogs; 0 where it does not,
// or is no filter's.
func (t *tank) loses(s *series) float64 {
	i := t.filterOf(s)
	if i < 0 {
		return 0
	}
	tr, _ := t.learned.Filters[t.config.Equipment.Filters[i].ID].perDay()
	return -tr.slope / 24
}

// valueOf is what of an hour is looked at, NaN where nothing came: of a flow its
// highest, so that a pause for feeding is none.
func (m member) valueOf(h Hour) float64 {
	switch {
	case h.N == 0:
		return math.NaN()
	case m.s.config.Quantity == aquarium.Flow:
		return h.High
	}
	return h.Mean
}

// newAccord learns of a document; nil where it holds too little.
func newAccord(w *Watch, t *tank, l *Learned) *accord {
	a := &accord{of: l, members: t.members()}
	for _, m := range a.members {
		if !m.given {
			a.judged++
		}
	}
	if a.judged < leastMembers {
		return nil
	}
	n := min(accordHours, len(l.Sensors[a.members[0].s.config.ID].Hours))
	if n < accordLeast {
		return nil
	}
	calm := l.calm(n)
	if len(calm) < accordLeast*2/3 {
		return nil
	}
	a.learnUsual(w, t, calm)
	o := relation.Options{Fast: accordGain, Settle: accordSettle, Hold: accordHold, Limit: accordLimit(a.judged)}
	rows := make([][]float64, len(calm))
	for i, at := range calm {
		rows[i] = a.row(w, t, at)
	}
	for _, m := range a.members {
		o.Given, o.Least = append(o.Given, m.given), append(o.Least, m.least)
	}
	var err error
	if a.model, _, err = relation.Learn(rows, o); err != nil {
		return nil // too few rows, or one sensor twice
	}
	return a
}

// accordLimits are those of accordLimit that were asked for: each takes milliseconds.
var accordLimits sync.Map

// accordLimit is the limit of an accord in which so many members are judged.
func accordLimit(judged int) float64 {
	if v, ok := accordLimits.Load(judged); ok {
		return v.(float64)
	}
	v := relation.Limit(judged, accordGain, accordRunLength)
	accordLimits.Store(judged, v)
	return v
}

// calm are the last hours of the document that can be learned from: in which
// nothing was disturbed, nor out of order, nor, as far as a day goes, about to be.
func (l *Learned) calm(n int) (at []aquarium.Instant) {
	odd := l.Through.Add(hours(2 * accordSettle))
	for i := 1; i <= n; i++ {
		h := l.Through.Add(-hours(i))
		if l.Company.odd(l.Through, h) {
			odd = h
		}
		if odd.Sub(h) > hours(accordSettle) && !l.Company.disturbed(l.Through, h) {
			at = append(at, h)
		}
	}
	slices.Reverse(at)
	return at
}

// learnUsual works out what each member comes to at each hour of the day, by the
// tank's own clock.
func (a *accord) learnUsual(w *Watch, t *tank, calm []aquarium.Instant) {
	a.usual, a.middle = make([][24]float64, len(a.members)), calm[len(calm)/2]
	for k := range a.members {
		m := &a.members[k]
		var each [24][]float64
		for _, at := range calm {
			if v := m.valueOf(t.hourOf(m.s, at)); !math.IsNaN(v) {
				h := w.hourOfDay(at)
				each[h] = append(each[h], v)
			}
		}
		for h, vs := range each {
			a.usual[k][h] = math.NaN()
			if len(vs) > 0 {
				a.usual[k][h] = statistic.Median(vs)
			}
		}
		if m.least == 0 {
			share := ofUsual
			if t.filterOf(m.s) >= 0 {
				share = ofFilters
			}
			for _, v := range a.usual[k] {
				m.least = max(m.least, share*math.Abs(v)) // NaN is none
			}
		}
	}
}

// hourOfDay is the hour of the day by the site's clock.
func (w *Watch) hourOfDay(at aquarium.Instant) int { return at.In(w.site.Timezone).Hour() }

// row is how far each member is from what is usual at that hour, or at the one
// before or after: an hour sooner or later is no change, on the day the clocks
// are changed, or the lights'.
func (a *accord) row(w *Watch, t *tank, at aquarium.Instant) []float64 {
	row, h := make([]float64, len(a.members)), w.hourOfDay(at)
	for k, m := range a.members {
		v, u := m.valueOf(t.hourOf(m.s, at)), &a.usual[k]
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, x := range [...]float64{u[(h+23)%24], u[h], u[(h+1)%24]} {
			if !math.IsNaN(x) {
				lo, hi = min(lo, x), max(hi, x)
			}
		}
		switch {
		case lo > hi:
			row[k] = math.NaN()
		case m.s.config.Quantity == aquarium.Flow:
			// A filter that gives more was cleaned.
			row[k] = min(0, v-lo+m.loses*max(0, at.Sub(a.middle).Hours()))
		default:
			row[k] = v - max(lo, min(hi, v))
		}
	}
	return row
}

// take tells a chart of an hour, unless nothing came in it; it reports whether
// that was out of order.
func (a *accord) take(w *Watch, t *tank, c *relation.Chart, at aquarium.Instant) bool {
	row := a.row(w, t, at)
	if !slices.ContainsFunc(row, func(v float64) bool { return !math.IsNaN(v) }) {
		return false
	}
	return c.Take(a.model, row).Out
}

// replay is a chart that has been told all hours up to the document's, and since
// when it is out of order, where it is.
func (a *accord) replay(w *Watch, t *tank) (c relation.Chart, since aquarium.Instant) {
	l := a.of
	n := min(accordHours, len(l.Sensors[a.members[0].s.config.ID].Hours))
	for at := l.Through.Add(-hours(n)); at < l.Through; at = at.Add(hours(1)) {
		if l.Company.disturbed(l.Through, at) {
			c, since = relation.Chart{}, 0
			continue
		}
		if l.Company.odd(l.Through, at) {
			c.Out = max(c.Out, 1) // it was, and it takes more to be over than not to begin
		}
		if was := since; !a.take(w, t, &c, at) {
			since = 0
		} else if was == 0 {
			since = at
		}
	}
	return c, since
}

// moved are the members that are furthest from what the others let expect, the
// furthest first.
func (a *accord) moved(c *relation.Chart, most int) (which []int, shifts []relation.Shift) {
	shifts = c.Shifts(a.model)
	for k, m := range a.members {
		if !m.given {
			which = append(which, k)
		}
	}
	slices.SortStableFunc(which, func(x, y int) int {
		return int(math.Copysign(1, math.Abs(shifts[y].Against)-math.Abs(shifts[x].Against)))
	})
	return which[:min(most, len(which))], shifts
}
