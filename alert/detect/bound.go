package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// side is one of the keeper's own bounds on a value of the water, and how it is
// watched: out is 1 above an upper bound and -1 below a lower one.
type side struct {
	cause   aquarium.Cause
	key     aquarium.EquipmentKey
	limit   float64
	out     float64
	back    float64 // the deadband: so far inside it must be to be over
	on, off time.Duration
	step    float64 // so much further out is worth telling again
	named   bool    // another cause says why
}

// hold holds a sensor's value against a bound.
func (b side) hold(v *view, t *tank, s *series, prove func(limit float64) aquarium.Evidence) {
	if b.out*(s.value()-b.limit) <= 0 && v.unheard(b.cause, t.config.ID, b.key) {
		return // as nearly always
	}
	margin := 0.0
	if v.stands(b.cause, t.config.ID, b.key) {
		margin = -b.back
	}
	v.find(b.cause, t.config.ID, finding{
		equipment: b.key, true: !b.named && b.out*(s.value()-b.limit) > margin, on: b.on, off: b.off,
		worse: b.out * s.value(), step: b.step,
		prove: func() aquarium.Evidence { return prove(b.limit) },
	})
}
