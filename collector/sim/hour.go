package sim

import (
	"time"

	"lentic/collector/aquarium"
)

// stepHours is one Step in hours, stepDays in days.
const (
	stepHours = float64(Step) / float64(time.Hour)
	stepDays  = stepHours / 24
)

// hour is the time of day at the site, looked up once a minute.
type hour struct {
	minute aquarium.Instant
	clock  aquarium.Clock
	day    time.Weekday
}

// turn reports whether a new minute has begun.
func (h *hour) turn(at aquarium.Instant, loc *time.Location) bool {
	m := at.Floor(time.Minute)
	if m == h.minute {
		return false
	}
	l := at.In(loc)
	h.minute, h.clock, h.day = m, aquarium.ClockOf(l), l.Weekday()
	return true
}
