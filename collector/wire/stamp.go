package wire

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// stamp is the time of a value, as it was sent.
type stamp struct {
	sec      float64 // Unix seconds, or seconds from arrival where not absolute
	absolute bool
}

// arrival is the stamp of a value that has no time of its own.
func arrival() stamp { return stamp{} }

// stampOf is the time of a SenML record. RFC 8428, section 4.5.3, lets a time
// below 2^28 count from now; that is at or before now. A small positive one is
// what a clock shows that was never set and counts from 1970 or from its own
// start, and is taken for that: it will be set aside.
func stampOf(r *record) stamp {
	return stamp{sec: r.time, absolute: r.time > 0}
}

// The times that can be written in RFC 3339: years 1 to 9999.
var (
	firstSecond = float64(time.Date(1, 1, 1, 0, 0, 0, 0, time.UTC).Unix())
	lastSecond  = float64(time.Date(9999, 12, 31, 23, 59, 59, 0, time.UTC).Unix())
)

// keep gives a reading its time and puts it where that time allows: among the
// readings, or aside where its clock cannot be right. A stored message tells
// when it was written only if it says so itself.
func (c *call) keep(r aquarium.Reading, at stamp) *refusal {
	sec := at.sec
	if !at.absolute {
		c.d.Arrival = true
		if c.m.Retained {
			return refuse(aquarium.ReasonRetained, "a stored message without a time of its own: nobody can tell how old it is: send absolute times, or do not retain")
		}
		sec += c.now()
	}
	if math.IsNaN(sec) || sec < firstSecond || sec > lastSecond {
		return refuse(aquarium.ReasonValue, "the time %g is beyond the calendar: send Unix seconds", at.sec)
	}
	r.At = aquarium.Instant(math.Round(sec * 1000))
	if r.At < aquarium.Earliest || r.At > c.m.Arrived.Add(aquarium.Ahead) {
		c.aside(r)
		return nil
	}
	c.d.Readings = append(c.d.Readings, r)
	return nil
}

// aside keeps a reading whose time cannot be right, and notes once a message
// how far off the gateway's clock is.
func (c *call) aside(r aquarium.Reading) {
	g := c.r.gateway(c.m, r.Sensor.Site)
	c.d.Aside = append(c.d.Aside, aquarium.Aside{Reading: r, Gateway: g, Arrived: c.m.Arrived})
	if c.clocks {
		return
	}
	c.clocks = true
	c.d.Arrival = true
	c.d.Readings = append(c.d.Readings, aquarium.Reading{
		Sensor: health(r.Sensor.Site, g, aquarium.GatewayClock),
		At:     c.m.Arrived,
		Value:  r.At.Sub(c.m.Arrived).Seconds(),
		Unit:   "s",
	})
}
