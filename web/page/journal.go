package page

import (
	"strings"
	"time"

	"lentic/collector/aquarium"
)

// entry says a line of the journal; empty for what is of no use to a reader.
func entry(e aquarium.Entry, now aquarium.Instant, zone *time.Location) string {
	by := ""
	if e.By != "" {
		by = " by " + string(e.By)
	}
	switch e.Kind {
	case aquarium.Visit:
		s := "Visit" + by
		if e.Until != 0 {
			s += ", until " + clock(e.Until, now, zone)
		}
		return strings.TrimSpace(s + "." + note(e.Note))
	case aquarium.HandTest:
		return "KH tested by hand" + by + ": " + shape{unit: "dKH", digits: 1}.full(e.KH) + "." + note(e.Note)
	case aquarium.Serviced:
		return "Serviced" + by + "." + note(e.Note)
	case aquarium.Deaf:
		until := ", still"
		if e.Until != 0 {
			until = " for " + lasting(e.Until.Sub(e.At))
		}
		return "lentic was not listening" + until + "." + note(e.Note)
	}
	return ""
}
