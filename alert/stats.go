package alert

import (
	"maps"
	"time"

	"lentic/collector/aquarium"
)

// Stats counts what the desk has done since it was made.
type Stats struct {
	Ticks     int           // steps of event time judged, over all sites
	Lag       time.Duration // of the last tick behind the clock
	Standing  int           // alarms that stand, in whatever state
	Waiting   int           // messages that have not left
	Delivered map[aquarium.ChannelID]int
	Failed    map[aquarium.ChannelID]int // attempts, not messages
}

// Stats is a copy of the counts.
func (d *Desk) Stats() Stats {
	d.mu.Lock()
	defer d.mu.Unlock()
	s := d.stats
	s.Standing, s.Waiting = len(d.files), len(d.box)
	s.Delivered, s.Failed = maps.Clone(s.Delivered), maps.Clone(s.Failed)
	return s
}
