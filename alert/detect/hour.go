package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// hoursHeld is how many hours a series holds besides what has been learned:
// Memory, and the one that is going on.
const hoursHeld = int(Memory/time.Hour) + 1

// hour is what one hour of a sensor comes to.
type hour struct {
	at        aquarium.Instant // when it begins
	n         int              // judged values
	sum       float64          // of the values; of a switch the milliseconds it was on
	low, high float64          // of the medians of three: one splash is no extreme
	turns     int              // of a switch, how often it was turned on
}

// past is an hour that is over, and what it has come to.
type past struct {
	hour
	sum Hour
}

// heldOver bounds for how long a switch that says nothing is taken to be as it
// last said, where it should have spoken.
const heldOver = 10 * time.Minute

// enter counts the newest point, which is among the points already, in its hour.
// It comes before a switch turns: until now it was as it had been.
func (s *series) enter(p point) {
	if s.config.Quantity == aquarium.Switch {
		s.enterSwitch(p)
	}
	s.turnHour(p.at)
	s.hour.n++
	if s.config.Quantity == aquarium.Switch {
		return
	}
	s.hour.sum += p.v
	v := s.value()
	if s.hour.n == 1 {
		s.hour.low, s.hour.high = v, v
	}
	s.hour.low, s.hour.high = min(s.hour.low, v), max(s.hour.high, v)
}

// enterSwitch adds the time a switch was on until p to the hours it was on in.
func (s *series) enterSwitch(p point) {
	n := len(s.points)
	if !s.on || s.since == 0 || n < 2 {
		return
	}
	from, to := s.points[n-2].at, p.at
	if !s.config.OnChange {
		to = min(to, from.Add(max(heldOver, 3*s.interval())))
	}
	for from < to {
		s.turnHour(from)
		end := min(to, s.hour.at.Add(time.Hour))
		s.hour.sum += float64(end - from)
		from = end
	}
}

// turnHour makes the hour of t the present one.
func (s *series) turnHour(t aquarium.Instant) {
	if s.hour.at != 0 && t >= s.hour.at && t < s.hour.at.Add(time.Hour) {
		return
	}
	at := t.Floor(time.Hour)
	if s.hour.at == at {
		return
	}
	if s.hour.at != 0 {
		s.hours[place(s.hour.at)] = past{s.hour, s.hour.summed(s.config.Quantity)}
	}
	s.hour, s.best = hour{at: at}, best{}
}

// place is where an hour is held.
func place(at aquarium.Instant) int {
	n := int(at/aquarium.Instant(time.Hour.Milliseconds())) % hoursHeld
	return (n + hoursHeld) % hoursHeld // before 1970 it is negative
}

// hourAt is what the hour has come to that begins at that whole hour, as far as it is
// held.
func (s *series) hourAt(at aquarium.Instant) (Hour, bool) {
	if s.hour.at == at {
		return s.hour.summed(s.config.Quantity), true
	}
	h := &s.hours[place(at)]
	return h.sum, h.at == at && at < s.hour.at
}

// best is the highest value of the hours that are over, as it was worked out.
type best struct {
	from aquarium.Instant // for the hour after that; 0: for none
	v    float64
}

// highest is the highest value within Memory before t, 0 where there is none.
func (s *series) highest(t aquarium.Instant) float64 {
	if b := &s.best; b.from == 0 || t <= b.from || t > b.from.Add(time.Hour) {
		b.from, b.v = (t - 1).Floor(time.Hour), math.Inf(-1)
		for i := range s.hours {
			h := &s.hours[i]
			if h.at >= t.Add(-Memory) && h.at < s.hour.at {
				b.v = max(b.v, h.high)
			}
		}
	}
	return max(s.hour.high, s.best.v)
}
