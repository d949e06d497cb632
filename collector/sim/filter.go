package sim

import (
	"math"

	"lentic/collector/aquarium"
)

// Common practice, no source.
const (
	defaultFilterLH = 1000.0
	clogPerDay      = 0.003 // share of the flow a filter loses by itself
	leastFlow       = 0.05  // share that even a clogged filter passes
)

// filter is one canister filter.
type filter struct {
	fullLH      float64 // clean
	clean       float64 // share of it left by its own clogging
	faulty      float64 // share lost to FilterClog
	faultPerDay float64
	perDay      float64 // share of the flow it loses by itself
	left        float64 // share that a blocked inlet lets through
	stalled     bool
	off         bool    // switched off by hand
	flow        float64 // l/h now
	total       float64 // litres since the beginning
	stops       []aquarium.Stop
}

func newFilters(tank aquarium.Tank, own func(string) stream) []filter {
	fs := make([]filter, len(tank.Equipment.Filters))
	for i, f := range tank.Equipment.Filters {
		rated := f.RatedLH
		if rated <= 0 {
			rated = defaultFilterLH
		}
		s := own("filter " + string(f.ID))
		// Head and media take a tenth or two off what is rated.
		fs[i] = filter{fullLH: rated * s.between(0.8, 0.9), clean: 0.9 + 0.1*s.uniform(1), perDay: clogPerDay, left: 1, stops: f.Stops}
	}
	return fs
}

// stepFilters: the end of FilterClog is a cleaning.
func (t *Tank) stepFilters() {
	for i := range t.filters {
		f := &t.filters[i]
		f.clean *= 1 - f.perDay*stepDays
		f.faulty += f.faultPerDay * stepDays
		if f.faultPerDay == 0 {
			f.faulty = 0
		}
		f.flow = f.fullLH * max(leastFlow, f.clean*(1-f.faulty)) * f.left
		if t.trouble.dark || f.stalled || f.off || stopped(f.stops, t.hour.clock) {
			f.flow = 0
		}
		f.total += f.flow * stepHours
	}
}

// stopped reports whether a planned stop covers that time of day.
func stopped(stops []aquarium.Stop, c aquarium.Clock) bool {
	for _, s := range stops {
		from := s.At
		to := aquarium.Clock((int(from) + int(math.Ceil(s.For.Minutes()))) % (24 * 60))
		if s.For > 0 && (aquarium.Span{From: from, To: to}).Contains(c) {
			return true
		}
	}
	return false
}

// turning is how much of the filters' clean flow there is, 0 to 1; a tank
// without filters in its configuration has some that nobody sees.
func (t *Tank) turning() float64 {
	if len(t.filters) == 0 {
		if t.trouble.dark {
			return 0
		}
		return 1
	}
	now, full := 0.0, 0.0
	for i := range t.filters {
		now += t.filters[i].flow
		full += t.filters[i].fullLH
	}
	return now / full
}
