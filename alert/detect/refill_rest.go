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
	restRises = 0.5 // l from its oldest five minutes to the newest is no rest
	restDays  = 3   // that are known
	restHours = 2 * time.Hour
)

// rest follows where the store stands still without being filled.
type rest struct {
	blocks [restBlocks + restUnknown]float64 // its last five minutes, the newest first
	n      int
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

// lies reports whether the store has stood still for as long as it takes to see that it is
// not filled.
func (x *rest) lies() bool {
	return x.n == len(x.blocks) && x.blocks[0]-x.blocks[x.n-1] < restRises
}

// calledAt is what is stored when the float calls for water at the latest, l; 0 where that
// does not show.
func (t *tank) calledAt(at aquarium.Instant) float64 {
	if m := &t.calledMemo; !m.holds(t.learned, 0) {
		*m = memo{of: t.learned, v: t.learned.Vessel.called(t.restMargin(), t.startOff(at))}
	}
	return t.calledMemo.v
}

// called: of a float it is known where it is by fillings at any hour, or by a single one
// that began lower than the store ever rested: one by hand begins where it stands. What is
// lower than all of them, and lower than it ever rested by half the margin, is below it too.
// Where one began is known but for so much.
func (x *Vessel) called(margin, off float64) float64 {
	starts := x.starts()
	if len(starts) == 0 || len(x.Rests) < restDays {
		return 0
	}
	highest, lowest := slices.Max(starts), slices.Min(x.Rests)
	switch {
	case lowest < highest-margin:
		return 0
	case len(starts) == 1:
		if lowest < highest+restLeast {
			return 0
		}
	case x.byTheClock():
		return 0
	}
	return max(min(highest-off, lowest-margin), min(slices.Min(starts)-off, lowest-max(margin/2, restLeast)))
}

// byTheClock reports whether the last fillings all began at about the same time of day: of
// a tank that uses as much each day they then begin at the same height, with no float.
func (x *Vessel) byTheClock() bool {
	began := x.began()
	for _, at := range began {
		if away := at.Sub(began[0]).Abs() % day; min(away, day-away) > restHours {
			return false
		}
	}
	return true
}

// startOff is by how much a filling may have begun lower than is known, l: where it began is
// the lowest middle of three readings, which is the one after the lowest.
func (t *tank) startOff(at aquarium.Instant) float64 {
	usual, _ := t.usualRefill(at)
	return usual * t.parts.stored.interval().Hours()
}

// restMargin is what a store must be lower by than ever, l.
func (t *tank) restMargin() float64 {
	return max(restLower*t.config.Equipment.Reservoir.CapacityL, restLeast)
}
