package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

const (
	unusualFor = 6 * time.Hour // in a row out of order
	// What shows only by day is not over by night.
	unusualOff = 24 * time.Hour
)

// unusual: the sensors together behave as they never have at this time of day.
// It is told within two days, for what shows by day only, or by night, must come
// twice to be more than a chance: on the page, and in the second morning's brief.
// Nothing that harms within hours is left to it; what has a name is told under
// that, before it or instead of it. It says nothing while another cause of the
// tank stands or somebody is at work, nor for a day after that, nor while the
// room or the water is warmer or colder than it was learned to be.
func unusual(v *view, t *tank) {
	c := &t.company
	out := hours(c.chart.Out) >= unusualFor
	if c.accord == nil || !out && !v.stands(aquarium.Unusual, t.config.ID, "") {
		return
	}
	if t.named(v) {
		c.disturbed |= c.bit(v.now)
	}
	f := finding{since: c.since, prove: func() aquarium.Evidence { return t.unlike(v) }}
	if !c.lately(v.now) && !t.visited {
		f.true, f.off = out, unusualOff
	}
	v.find(aquarium.Unusual, t.config.ID, f)
}

// mostMoved is how many sensors are named.
const mostMoved = 3

// unlike is the evidence: the sensor that is furthest from what the others let
// expect of it, and those after it.
func (t *tank) unlike(v *view) aquarium.Evidence {
	c := &t.company
	a := c.accord
	which, shifts := a.moved(&c.chart, mostMoved)
	m := a.members[which[0]]
	e := aquarium.Evidence{Sensor: m.s.config.ID, Unit: m.unit()}
	last := c.next.Add(-time.Hour)
	if x := m.valueOf(t.hourOf(m.s, last)); !math.IsNaN(x) {
		e.Value, e.Expected = m.told(x), of(m.told(x-shifts[which[0]].By))
	}
	for i, k := range which {
		m := a.members[k]
		if i > 0 && math.Abs(shifts[k].Against) < leastMoved {
			break
		}
		e.Facts = append(e.Facts, aquarium.Fact{Name: FactApart, Value: m.told(shifts[k].By), Unit: m.unit(), Word: string(m.s.config.ID)})
	}
	e.Facts = append(e.Facts, lasting(FactFor, v.now.Sub(c.since)),
		num(FactLearned, float64(min(accordHours/24, a.of.Days())), "d"))
	return e
}

// leastMoved is how far a second sensor must be from what is expected of it, in
// standard deviations, to be named.
const leastMoved = 2

// unit is what a member is told in: a switch in per cent of the hour.
func (m member) unit() aquarium.Unit {
	if m.s.config.Quantity == aquarium.Switch {
		return "%"
	}
	return m.s.config.Quantity.Unit()
}

func (m member) told(v float64) float64 {
	if m.s.config.Quantity == aquarium.Switch {
		v *= 100
	}
	return digits(v)
}

func blindUnusual(c *aquarium.Tank) string {
	n := 0
	for _, m := range newTank("", c).members() {
		if !m.given {
			n++
		}
	}
	if n < leastMembers {
		return "fewer than two sensors to be held against each other: pH, level, flow or what a machine is told"
	}
	return ""
}
