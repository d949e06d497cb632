package detect

import (
	"maps"
	"time"

	"lentic/collector/aquarium"
)

// still follows for how long a sensor has said one and the same value.
type still struct {
	v     float64
	since aquarium.Instant // 0: nothing has come yet
	seen  aquarium.Instant // the newest reading that was looked at
	held  aquarium.Instant // up to when it is known to have said so
	told  aquarium.Instant // when it was last found to be stuck
	day   aquarium.Instant // the present day of UTC
	// What the present day and the one before have come to.
	today, before Stillness
}

// follow looks at the readings since it did last.
func (x *still) follow(s *series, at aquarium.Instant) {
	if d := at.Floor(day); d != x.day {
		if x.before = x.today; d.Sub(x.day) > day {
			x.before = Stillness{}
		}
		x.day, x.today = d, Stillness{}
	}
	i := len(s.points)
	for i > 0 && s.points[i-1].at > x.seen {
		i--
	}
	for _, p := range s.points[i:] {
		gap := p.at.Sub(x.seen) > s.unheard()
		if s.config.OnChange && x.since != 0 && !gap { // it said the same until then
			x.upTo(p.at)
		}
		if x.since == 0 || p.v != x.v || gap {
			x.v, x.since = p.v, p.at
			x.today.Stretches++
		}
		x.seen = p.at
		x.upTo(p.at)
	}
	if s.config.OnChange && x.since != 0 {
		x.held = max(x.held, min(at, x.seen.Add(s.config.Refresh)))
	}
}

// upTo notes that it has said the same up to then.
func (x *still) upTo(at aquarium.Instant) {
	x.held = at
	x.today.Longest = max(x.today.Longest, min(x.lasted(), stillMost))
}

// unheard is the longest gap between two readings that leaves no doubt that the sensor
// said the same all the while. One that tells its changes says nothing until its refresh.
func (s *series) unheard() time.Duration {
	if s.config.OnChange {
		return s.config.Refresh + gapEnds
	}
	return max(gapEnds, 3*s.interval())
}

// stillMost is what is counted of a stretch at the most. It is also what a watch
// has seen of the evening before when it learns a day, whenever it began.
const stillMost = 105 * time.Minute

// gapEnds is a silence after which nobody knows whether the value was the same
// all the while. Common practice, no source.
const gapEnds = 10 * time.Minute

// lasted is how long it has been so, as far as it is known.
func (x *still) lasted() time.Duration { return x.held.Sub(x.since) }

// Stillness is how still a sensor stood on a day.
type Stillness struct {
	Longest   time.Duration `json:"longest"`   // it said one and the same value
	Stretches int           `json:"stretches"` // of one value each
}

// stillDays is how many days are remembered: each day of the week twice.
const stillDays = 14

// stillness sums days up: the longest stretch of all, and how many there are in a
// day.
func stillness(days []Stillness) (longest time.Duration, perDay float64) {
	for _, d := range days {
		longest = max(longest, d.Longest)
		perDay += float64(d.Stretches) / float64(len(days))
	}
	return longest, perDay
}

// learnStill takes a day in. What would have been told as stuck is not what is
// usual.
func learnStill(v *view, t *tank, l *Learned) {
	next := maps.Clone(l.Still)
	for _, s := range t.order {
		d := s.still.today
		if s.still.day == l.Through {
			d = s.still.before
		}
		had := next[s.config.ID]
		limit, known := stuckLimit(had)
		odd := known && d.Longest >= limit
		if s.config.OnChange { // it may have had nothing to say
			odd = s.still.told >= l.Through.Add(-day)
		}
		if d.Stretches < 2 || !stillable(s.config) || odd {
			continue
		}
		if next == nil {
			next = map[aquarium.SensorID][]Stillness{}
		}
		next[s.config.ID] = append(append([]Stillness{}, last(had, stillDays-1)...), d)
	}
	l.Still = next
}
