package detect

import (
	"math"
	"slices"
	"time"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// A probe that was calibrated is another probe: what it said before says nothing
// of it. That is known from the journal; from a declared visit in which it left
// the water; or from the pH, which stepped within a minute by what no water does
// and no fault: up to a tenth and a bit, and stayed there.
const (
	calibrationStep  = 0.06
	calibrationMost  = 0.13
	calibrationStays = calibrationStep - 0.01 // of it, once it is seen in readings before and after
	calibrationSure  = 10                     // minutes
	buffered         = 0.3                    // a step in a visit
	// A poor probe's noise, or a coarse one's last digit on the way down of a morning,
	// makes such a step between two minutes nearly every day: so the middles of five
	// are compared, before and after, less what the pH moves by anyway.
	calibrationPart = calibrationSure / 2
)

// calibrations follows whether the probe was calibrated.
type calibrations struct {
	at     aquarium.Instant // when it last was
	step   aquarium.Instant // when the pH stepped, and may have for that
	before float64
	last   [2 * calibrationSure]float64 // the pH of the last minutes without a gap, the newest first
	n      int
	prior  aquarium.Instant
}

// follow takes in the pH of a minute.
func (h *calibrations) follow(at aquarium.Instant, v float64, visited bool) {
	if at.Sub(h.prior) != time.Minute {
		h.n = 0
	}
	step := math.Abs(v - h.last[0])
	switch next := h.n > 0; {
	case next && visited && step >= buffered:
		h.at = at
	case next && h.step == 0 && step >= calibrationStep:
		h.step, h.before = at, h.last[0]
	case h.step != 0 && at.Sub(h.step) >= calibrationSure*time.Minute:
		if visited && h.stays(v) || !visited && h.stepped() {
			h.at = h.step
		}
		h.step = 0
	}
	copy(h.last[1:], h.last[:])
	h.last[0], h.n, h.prior = v, min(h.n+1, len(h.last)), at
}

// stays reports whether the pH is still where the step in a visit had brought it: in the
// morning's gas it goes on from there.
func (h *calibrations) stays(v float64) bool {
	by := math.Abs(v - h.before)
	return by >= calibrationStays && (h.n < calibrationSure || math.Abs(v-h.last[calibrationSure-2]) <= by/2)
}

// stepped reports whether the pH of the last minutes makes a calibration's step in
// their middle.
func (h *calibrations) stepped() bool {
	if h.n < len(h.last) {
		return false
	}
	var part [4]float64 // the newest first
	for i := range part {
		ps := h.last[i*calibrationPart:][:calibrationPart]
		part[i] = statistic.Median(slices.Clone(ps))
	}
	moves := (part[0] - part[1] + part[2] - part[3]) / 2
	step := math.Abs(part[1] - part[2] - moves)
	return step >= calibrationStays && step < calibrationMost && h.leaps()
}

// leaps reports whether the pH moved in the step's own minute by a step more than in
// those before it and in those after it: a brisk morning's gas moves it by as much
// minute after minute, and from one minute to the next begins to.
func (h *calibrations) leaps() bool {
	var moved [len(h.last) - 1]float64 // in each minute, the newest first
	for i := range moved {
		moved[i] = h.last[i] - h.last[i+1]
	}
	after, step, before := moved[:calibrationSure-1], moved[calibrationSure-1], moved[calibrationSure:]
	return min(math.Abs(step-statistic.Median(slices.Clone(after))), math.Abs(step-statistic.Median(slices.Clone(before)))) >= calibrationStays
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
