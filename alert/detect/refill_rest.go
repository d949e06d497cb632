package detect

import (
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// A float that calls for water does so the moment the store has come down to it. Where no
// switch tells, that shows as a store which has never rested below where a filling began:
// then one that does is called for in vain, though it stands higher than the top-off had
// drawn it down to before. A store that is filled at certain hours, or by hand, has rested
// there often, and is left to waits.
const (
	// A rest is of so many five minutes, known to be one once no filling has shown itself
	// for as long as it takes to be seen.
	restBlocks  = 3
	restUnknown = int(slowFor / storeBlock)
	// Of the capacity, or as much as many a meter's step, is no lower.
	restLower = 0.01
	restLeast = 1.0 // l
	restDays  = 3   // that are known
	restHours = 2 * time.Hour
	// Half as long again as it usually takes to full, so that what is due within twice the
	// time is told by then; as long as a rest at the least, for a float may open slowly.
	restShare = 1.5
	restWaits = restBlocks * storeBlock
	restComes = 0.5 // of what is usual is a filling, if a slow one
)

// rest follows where the store stands still without being filled.
type rest struct {
	blocks [restBlocks + restUnknown]float64 // its last five minutes, the newest first
	n      int
	low    float64          // l, the lowest since it is lower than it ever rested
	since  aquarium.Instant // 0: it is not
}

// take adds five minutes of the store, and notes the lowest rest of the day.
func (x *rest) take(d *vesselDay, litres float64, filling bool) {
	if filling {
		x.n = 0
		return
	}
	copy(x.blocks[1:], x.blocks[:])
	x.blocks[0] = litres
	if x.n = min(x.n+1, len(x.blocks)); x.n < len(x.blocks) {
		return
	}
	if v := slices.Max(x.blocks[restUnknown:]); d.rest == 0 || v < d.rest {
		d.rest = v
	}
}

// calledAt is what is stored when the float calls for water at the latest, l; 0 where that
// does not show.
func (t *tank) calledAt() float64 {
	if m := &t.calledMemo; !m.holds(t.learned, 0) {
		*m = memo{of: t.learned, v: t.learned.Vessel.called(t.restMargin())}
	}
	return t.calledMemo.v
}

func (x *Vessel) called(margin float64) float64 {
	starts := x.starts()
	if len(starts) < slowLearned || len(x.Rests) < restDays || x.byTheClock() {
		return 0
	}
	highest, lowest := slices.Max(starts), slices.Min(x.Rests)
	if lowest < highest-margin {
		return 0
	}
	return min(highest, lowest-margin)
}

// byTheClock reports whether the last fillings all ended at about the same time of day: of
// a tank that uses as much each day they then begin at the same height, with no float.
func (x *Vessel) byTheClock() bool {
	fills := last(x.Refills, refillsUsual)
	if len(fills) < slowLearned {
		return true
	}
	for _, f := range fills {
		if away := f.At.Sub(fills[0].At).Abs() % day; min(away, day-away) > restHours {
			return false
		}
	}
	return true
}

// restMargin is what a store must be lower by than ever, l.
func (t *tank) restMargin() float64 {
	return max(restLower*t.config.Equipment.Reservoir.CapacityL, restLeast)
}

// inVain reports whether the store's float has called for water for too long, and next to
// none has come.
func (r *refill) inVain(t *tank, v *view) bool {
	x, called := &t.vessel.rest, t.calledAt()
	stored := x.blocks[0]
	switch {
	case x.n == 0 || stored >= called && (x.since == 0 || stored >= called+t.restMargin()):
		x.since = 0
		return false // as nearly always
	case x.since == 0:
		x.low, x.since = stored, v.now.Add(-storeBlock)
	case stored < x.low:
		x.low = stored
	}
	usual, _ := t.usualRefill(v.now)
	waited := v.now.Sub(x.since)
	full := t.config.Equipment.Reservoir.CapacityL
	if days := t.learned.Vessel.Highest; len(days) > 0 {
		full = min(full, slices.Max(days))
	}
	need := full - x.low
	return usual > 0 && waited >= max(restWaits, time.Duration(restShare*need/usual*float64(time.Hour))) &&
		t.parts.stored.value()-x.low < restComes*usual*waited.Hours()
}
