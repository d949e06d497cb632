package page

import (
	"strings"
	"time"

	"lentic/collector/aquarium"
)

// calibration says what an electrode gave in its buffers.
func calibration(c *aquarium.Calibration, by string) string {
	if c == nil {
		return "Calibration" + by
	}
	of := shape{digits: 2}
	if c.Unit == "mV" {
		of = shape{unit: "mV", digits: 1}
	}
	var reads []string
	for _, b := range c.Buffers {
		reads = append(reads, of.full(b.Reading)+" in buffer "+shape{digits: 2}.full(b.Label))
	}
	if c.State != aquarium.AsRead {
		by += ", as " + string(c.State)
	}
	return "Calibration of " + string(c.Sensor) + by + ": " + strings.Join(reads, ", ")
}

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
	case aquarium.Calibrated:
		return calibration(e.Calibration, by) + "." + note(e.Note)
	case aquarium.Deaf:
		until := ", still"
		if e.Until != 0 {
			until = " for " + lasting(e.Until.Sub(e.At))
		}
		return "lentic was not listening" + until + "." + note(e.Note)
	}
	return ""
}
