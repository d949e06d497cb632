package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// Waves at the stop of all filters are those of the hands that stop them, or chance: a
// splash, of which a tank has one or two a day, or noise that for once looks like it.
// Hands at work go on making them; chance makes them twice within a quarter of an hour
// at one stop in a thousand. So waves that stay the only sign, and do not come again, hide
// that the filters stand for no longer than the stop alone does. Common practice, no source.
const (
	// Waves so shortly before all filters stop are those of the hands that stop them; a
	// splash a while before a hose bursts is not.
	wavesAhead = 5 * time.Minute
	// For so long, and two readings, the first ones may be seen: the mean that shows them
	// goes back within waveFast, and small ones are looked for over restlessFor.
	wavesAgain = 5 * time.Minute
	// Where nobody is there to stop filters what stops them is what fails, and small waves
	// are chance, at one stop in twenty: who cares for a tank comes while people are there, or
	// shortly before or after.
	handsFrom  = aquarium.Clock(7 * 60) // where the site's hours are not known
	handsTo    = aquarium.Clock(19 * 60)
	handsAside = time.Hour
)

// seeWaves looks for hands in the water. Small waves count once, where somebody may be
// there, before any water has left, and only where all filters have just been stopped: of
// the looks of a whole hour one would be wrong. They count again where waves are all there
// is so far.
func (g *signs) seeWaves(v *view, t *tank, calm bool) {
	s := t.signLevel(v)
	if s == nil || t.changing(v) {
		return
	}
	later := g.first[waves] != 0 && v.now.Sub(g.first[waves]) >= wavesAgain+2*s.interval()
	calm = calm && t.manned(v)
	small := calm && g.first[waves] == 0 && g.first[waterOut] == 0 || later && g.onlyWaves()
	rough := s.wave.rough != 0 && v.now.Sub(s.wave.rough) <= aquarium.Step
	if rough || small && s.restless(v.now) && !(later && s.flickers(v.now)) {
		g.again = g.again || later
		g.handled = g.handled || g.first[probeOut] != 0 && s.wave.churned(v.now)
		g.see(v.now, waves)
		g.hands = v.now
		if g.first[waterOut] == 0 {
			g.waved = v.now
		}
	}
}

// manned reports whether somebody may have been there to stop the filters.
func (t *tank) manned(v *view) bool {
	stop := t.pauses.from
	if stop == 0 {
		stop = v.now
	}
	hours, at := v.w.site.Hours, stop.In(v.w.site.Timezone)
	if len(hours) == 0 {
		clock := aquarium.ClockOf(at)
		return clock >= handsFrom && clock < handsTo
	}
	return hours.Contains(at) || hours.Contains(at.Add(handsAside)) || hours.Contains(at.Add(-handsAside))
}

// onlyWaves reports whether the signs are a visit for nothing but waves that have not
// come again.
func (g *signs) onlyWaves() bool {
	if g.again || !g.withStop || g.offFirst {
		return false
	}
	for _, k := range [...]sign{probeOut, waterOut, waterIn, inTurn} {
		if g.first[k] != 0 {
			return false
		}
	}
	return true
}
