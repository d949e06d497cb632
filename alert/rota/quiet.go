package rota

import (
	"time"

	"lentic/collector/aquarium"
)

// Hold is when something of that priority may be told to the person, at t or
// later: t itself for a high one and outside quiet hours, else their end.
func Hold(p aquarium.Priority, who aquarium.Person, t aquarium.Instant) aquarium.Instant {
	if p >= aquarium.High || who.Quiet == nil {
		return t
	}
	// The zero span means the whole day elsewhere; nobody is never to be
	// told, so as quiet hours it means none.
	if who.Quiet.From == who.Quiet.To {
		return t
	}
	return walk(t, who.Timezone, func(c aquarium.Clock) bool { return !who.Quiet.Contains(c) })
}

// NextDigest is the first time after t at which a person's clock shows the
// hour of a digest.
func NextDigest(hour aquarium.Clock, zone *time.Location, t aquarium.Instant) aquarium.Instant {
	if hour >= 24*60 {
		hour = 0
	}
	day := t.In(zone)
	for range 3 {
		// Date moves an hour that the change to summer time skips to one
		// that exists, and takes one of two that the change back repeats:
		// either way the day has one digest.
		d := time.Date(day.Year(), day.Month(), day.Day(), int(hour)/60, int(hour)%60, 0, 0, day.Location())
		if at := aquarium.At(d); at > t {
			return at
		}
		day = time.Date(day.Year(), day.Month(), day.Day()+1, 12, 0, 0, 0, day.Location())
	}
	return t.Add(24 * time.Hour)
}

// walk is the first t, or whole minute after it, whose time of day will do. It
// goes minute by minute, so that nights of seven and nine hours, and hours
// that come twice or never, need no case of their own.
func walk(t aquarium.Instant, zone *time.Location, will func(aquarium.Clock) bool) aquarium.Instant {
	for at := t; at < t.Add(49*time.Hour); at = at.Floor(time.Minute).Add(time.Minute) {
		if will(aquarium.ClockOf(at.In(zone))) {
			return at
		}
	}
	return t
}
