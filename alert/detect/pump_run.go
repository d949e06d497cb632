package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// Common practice, no source.
const (
	// The least a run is allowed, so that a pump that only tops the last
	// millimetre is not blamed for the sensor's resolution.
	leastRun = 3 * time.Minute
	// The most a run may take where neither volume nor rate is known.
	mostRun = 30 * time.Minute
)

// pumpRun follows the top-off pump's present run.
type pumpRun struct {
	on      bool
	since   aquarium.Instant
	deficit float64 // mm to the top of the band when it began
	known   bool
}

func (r *pumpRun) follow(t *tank, at aquarium.Instant) {
	part := t.config.Equipment.TopOff
	if part == nil {
		return
	}
	on, known := t.on(part.Pump, at)
	if !known {
		return
	}
	if on && (!r.on || r.since != t.sensor(part.Pump).since) {
		r.since = t.sensor(part.Pump).since
		if s := t.sensor(part.Level); part.Level != "" && s.current(at) {
			level, ok := s.at(r.since)
			if !ok {
				level = s.value()
			}
			r.deficit, r.known = max(0, part.BandMM-level), true
		} else {
			r.known = false
		}
	}
	r.on = on
}

// need is how long the run should take at most, with what is known.
func (r *pumpRun) need(t *tank) time.Duration {
	part := t.config.Equipment.TopOff
	perMM := t.config.Size.LitresPerMM()
	if part.RateLH <= 0 || perMM <= 0 {
		return mostRun
	}
	mm := 2 * part.BandMM
	if r.known {
		mm = r.deficit
	}
	return max(leastRun, time.Duration(mm*perMM/part.RateLH*float64(time.Hour)))
}
