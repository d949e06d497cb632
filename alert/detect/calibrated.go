package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// A probe that was calibrated is another probe: what it said before says nothing
// of it. That is known from the journal; from a declared visit in which it left
// the water; or from the pH, which stepped within a minute by what no water does
// and no fault: up to a tenth and a bit, and stayed there.
const (
	calibrationStep = 0.06
	calibrationMost = 0.13
	calibrationSure = 10 * time.Minute
	buffered        = 0.3 // a step in a visit
)

// calibrations follows whether the probe was calibrated.
type calibrations struct {
	at     aquarium.Instant // when it last was
	step   aquarium.Instant // when the pH stepped, and may have for that
	before float64
	last   float64 // the pH a minute ago
	prior  aquarium.Instant
}

// follow takes in the pH of a minute.
func (h *calibrations) follow(at aquarium.Instant, v float64, visited bool) {
	next := h.prior != 0 && at.Sub(h.prior) == time.Minute
	step := math.Abs(v - h.last)
	switch {
	case next && visited && step >= buffered:
		h.at = at
	case next && h.step == 0 && step >= calibrationStep:
		h.step, h.before = at, h.last
	case h.step != 0 && at.Sub(h.step) >= calibrationSure:
		if moved := math.Abs(v - h.before); moved >= calibrationStep-0.01 && (moved < calibrationMost || visited) {
			h.at = h.step
		}
		h.step = 0
	}
	h.last, h.prior = v, at
}

// calibrated is when the probe was last calibrated by the journal; 0: never.
func (t *tank) calibrated(v *view) (at aquarium.Instant) {
	for _, e := range v.w.noted(aquarium.Calibrated) {
		if e.Concerns(aquarium.TankKey{Site: v.w.site.ID, Tank: t.config.ID}) && e.At <= v.now {
			at = max(at, e.At)
		}
	}
	return at
}
