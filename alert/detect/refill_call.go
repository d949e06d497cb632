package detect

import (
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// From the moment the store has come below where its float calls for water until it is full
// it is asked for, however little comes, and whoever draws on it meanwhile.
const (
	// A quarter longer than it usually takes to full, so that what is due within twice the
	// time is told by then, though a quick filling is over in few of the five minutes; as
	// long as a rest at the least, for a float may open slowly.
	callShare = 1.25
	callWaits = restBlocks * storeBlock
	callComes = 0.5 // of what is usual is a filling, if a slow one
	// From one five minutes to the next: somebody draws, so that what came is not known.
	callTaken = 0.5 // l
)

// call is a float's call for water where no switch tells.
type call struct {
	since  aquarium.Instant // 0: it does not call
	at     aquarium.Instant // when it was last looked at
	stored float64          // l then
	need   float64          // l that are wanted until it is full, with what was drawn
	came   float64          // l
	comes  float64          // l/h, of late
	lasted time.Duration    // in which nobody drew
}

// take adds five minutes of the store.
func (c *call) take(t *tank, v *view, litres float64) {
	if c.since == 0 {
		if litres < t.calledAt(v.now) {
			c.start(t, wentBelow(t.parts.stored.window(v.now, callWaits), t.calledAt(v.now)+restLeast/2), v.now, litres)
		}
		return // as nearly always
	}
	switch rise := litres - c.stored; {
	case litres >= fullShare*t.comesTo(), litres >= t.calledAt(v.now)+t.restMargin() && t.vessel.rest.lies():
		*c = call{}
		return
	case v.now < t.vessel.busy:
		c.start(t, v.now, v.now, litres)
	case rise < -callTaken:
		c.need -= rise
	default:
		c.came += rise
		c.comes = rise / v.now.Sub(c.at).Hours()
		c.lasted += v.now.Sub(c.at)
	}
	c.at, c.stored = v.now, litres
}

// wentBelow is since when the newest points are lower than that: by half of what is no
// lower more than the mark, for each reading has its noise.
func wentBelow(ps []point, litres float64) aquarium.Instant {
	i := len(ps) - 1
	for i > 0 && ps[i-1].v < litres {
		i--
	}
	return ps[i].at
}

func (c *call) start(t *tank, since, at aquarium.Instant, litres float64) {
	*c = call{since: since, at: at, stored: litres, need: t.comesTo() - litres, lasted: at.Sub(since)}
}

// comesTo is what the store comes to when it is filled, l.
func (t *tank) comesTo() float64 {
	full := t.config.Equipment.Reservoir.CapacityL
	if days := t.learned.Vessel.Highest; len(days) > 0 {
		full = min(full, slices.Max(days))
	}
	return full
}

// inVain reports whether the float has called for too long, and next to nothing has come, or
// on the whole a fifth less than usual.
func (c *call) inVain(t *tank, v *view) bool {
	if c.since == 0 {
		return false // as nearly always
	}
	usual, known := t.usualRefill(v.now)
	if usual <= 0 {
		return false
	}
	fills := time.Duration(c.need / usual * float64(time.Hour))
	least := callComes * usual
	if c.lasted >= max(callWaits, time.Duration(callShare*float64(fills))) && c.came < least*c.lasted.Hours() && c.comes < least {
		return true
	}
	open := c.lasted - callWaits // of a float that opens slowly
	return known >= slowKnown && open >= time.Duration(slowAfter*float64(fills)) && c.came+t.restMargin() < slowShare*usual*open.Hours()
}
