package detect

import (
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// An automatic change lets water out and then in. Its pumps hand over within
// seconds, a valve within a minute or two, and whoever warms the new water does so
// before the change begins. So ten minutes in which nothing moves are none of its
// steps, and in ten minutes nothing spoils that another ten would not: then the
// heater lies dry and the filters draw air. Where a switch is missing the level
// must be seen to have come to rest, and a quarter of an hour is given. Common
// practice, no source.
const (
	changeWaits     = 10 * time.Minute
	changeWaitsSeen = 15 * time.Minute
	changeStarts    = 30 * time.Minute // after its time, for the water to fall
	changeSettles   = 3 * time.Minute
	changeLongest   = 12 * time.Hour
	changeShare     = 0.25 // of its litres: what is missing for less is made good
	changeMoves     = 1.5  // mm that a level moves in earnest
	changeTooMuch   = 1.3  // of its litres: it does not stop
	changeMargin    = 10.0 // mm besides
	changeCreeps    = 0.6  // of the slowest that was seen
)

// change follows an automatic change of water.
type change struct {
	due    bool             // its time has come, and no water has gone yet
	going  bool             // under way, or not made good
	began  aquarium.Instant // when it did or should have
	seen   bool             // by the level
	before float64          // the level when it began, mm
	lowest float64          // since
	turned aquarium.Instant // when it was there
	moved  aquarium.Instant // when it was last known to go on, but by the level
	in     bool             // new water was commanded
	ended  aquarium.Instant // when that last was over
	short  bool             // too early, by the level
}

// follow notices when a change begins, moves and is over.
func (c *change) follow(t *tank, v *view, visit bool) {
	part := t.config.Equipment.WaterChange
	out, outKnown := t.on(part.Out, v.now)
	in, inKnown := t.on(part.In, v.now)
	switch {
	case visit || (c.due || c.going) && v.now.Sub(c.began) > changeLongest:
		*c = change{}
		return
	case !c.going && outKnown && out:
		c.begin(t, v, t.sensor(part.Out).since)
		c.due, c.going = false, true
	case !c.going && !c.due && !outKnown && t.changeDue(v):
		c.begin(t, v, v.now)
		c.due = c.seen
	}
	if !c.going && !c.due {
		return
	}
	if t.unpowered(v) {
		c.moved = v.now // it goes on when mains is back
	}
	c.in = c.in || inKnown && in
	if c.going && !c.seen && (outKnown && out || inKnown && in) {
		c.moved = v.now
	}
	if s := t.level; c.seen && s.current(v.now) {
		c.look(t, v, s)
	} else if !c.seen && c.going && !in && (c.in || !inKnown) && v.now.Sub(c.moved) > changeSettles {
		*c = change{} // nobody sees the level, so the switch is believed
	}
	if c.going || c.due {
		x := &t.vessel
		x.changed, x.busy, x.stirred = v.now, max(x.busy, v.now.Add(changeSettles)), max(x.stirred, v.now.Add(changeSettles))
	}
}

// begin notes where the water stood.
func (c *change) begin(t *tank, v *view, at aquarium.Instant) {
	if c.due { // it began a little after its time
		return
	}
	*c = change{began: at, moved: v.now}
	if level, ok := t.level.when(at, v.now); ok {
		c.seen, c.before, c.lowest = true, level, level
	}
}

// look follows the level through the change.
func (c *change) look(t *tank, v *view, s *series) {
	level := s.value()
	if level < c.lowest {
		c.lowest, c.turned = level, v.now
	}
	fallen := c.fell(t)
	in, known := t.on(t.config.Equipment.WaterChange.In, v.now)
	if known && in {
		c.short = false
	}
	if known && in || c.due && v.now.Sub(c.began) <= changeStarts && !fallen {
		return
	}
	if known && c.in {
		c.end(t, v, t.sensor(t.config.Equipment.WaterChange.In).since)
	}
	settles := changeWaits
	if t.config.Equipment.WaterChange.In != "" {
		settles = changeSettles
	}
	switch {
	case c.due && fallen:
		c.due, c.going = false, true
	case fallen && !c.short && c.before-level <= c.missing(t) && c.rests(v, s, settles):
		if ran := v.now.Sub(c.turned) - settles; ran > 0 && !v.stands(aquarium.WaterChangeIncomplete, t.config.ID, "water_change") {
			t.vessel.days[0].fill = (level - c.lowest) / ran.Hours()
		}
		*c = change{}
	case c.due, !fallen && c.rests(v, s, changeWaits):
		*c = change{}
	}
}

// end notes whether the new water was over too early, as soon as the level says where it
// left off, for the top-off may make it good. Once that is told it is over when it has.
func (c *change) end(t *tank, v *view, at aquarium.Instant) {
	if c.ended != at && v.now.Sub(at) >= 2*t.level.interval()+aquarium.Step {
		c.ended, c.short = at, c.before-t.level.value() > c.missing(t)
	}
	if c.short && v.stands(aquarium.WaterChangeIncomplete, t.config.ID, "water_change") {
		c.short = false
	}
}

// fell reports whether water was seen to go out.
func (c *change) fell(t *tank) bool {
	return c.before-c.lowest >= max(2*changeMoves, changeShare/2*c.whole(t))
}

// creeps reports whether the level comes back far slower than any change has yet
// brought it, its pumps having handed over: then it is the top-off that does, and no new
// water comes.
func (c *change) creeps(t *tank, v *view, s *series, wait time.Duration) bool {
	fills := t.learned.Vessel.Fills
	up := v.now.Sub(c.turned)
	if len(fills) == 0 || c.turned == 0 || up < wait {
		return false
	}
	return (s.value()-c.lowest)/(up-changeSettles).Hours() < changeCreeps*slices.Min(fills)
}

// rests reports whether nothing has moved for so long: the means of the thirds of
// that time lie together.
func (c *change) rests(v *view, s *series, d time.Duration) bool {
	ps := s.window(v.now, d)
	n := len(ps) / 3
	if n == 0 || v.now.Sub(c.moved) < d {
		return false
	}
	a, b, e := mean(ps[:n]), mean(ps[n:2*n]), mean(ps[2*n:])
	return max(a, b, e)-min(a, b, e) < changeMoves
}

// fills reports whether a change lets new water in, as far as anybody tells.
func (c *change) fills(t *tank, v *view) bool {
	if !c.going {
		return false
	}
	in, known := t.on(t.config.Equipment.WaterChange.In, v.now)
	return in || !known
}

// changedWithin reports whether a change was under way within so long.
func (t *tank) changedWithin(v *view, ago time.Duration) bool {
	at := t.vessel.changed
	return at != 0 && v.now.Sub(at) < ago
}

// tops reports whether the top-off brings water: its pump is on, or, where no switch
// tells, what it draws on falls by half of what it would bring.
func (t *tank) tops(v *view) bool {
	part := t.topOff()
	if on, known := t.parts.pump.isOn(v.now); known {
		return on
	}
	store := t.sensor(part.From)
	before, ok := store.when(v.now.Add(-changeSettles), v.now)
	return ok && part.RateLH > 0 && before-store.value() > part.RateLH*changeSettles.Hours()/2
}

// whole is what the change lowers the level by, mm; 0 where that is not known.
func (c *change) whole(t *tank) float64 {
	perMM, _ := t.perMM()
	return t.config.Equipment.WaterChange.Litres / perMM
}

// missing is how far under its beginning the level may be left, mm: what the
// top-off makes good, or a quarter of the change.
func (c *change) missing(t *tank) float64 {
	return max(changeShare*c.whole(t), t.topOff().BandMM+runawayMargin)
}

// changeDue reports whether the change is to begin in this minute.
func (t *tank) changeDue(v *view) bool {
	if v.now.Floor(time.Minute) != v.now {
		return false
	}
	now := v.now.In(v.w.site.Timezone)
	for _, w := range t.config.Equipment.WaterChange.At {
		if (w.Daily || w.Day == now.Weekday()) && w.At == aquarium.ClockOf(now) {
			return true
		}
	}
	return false
}
