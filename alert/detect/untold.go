package detect

import (
	"fmt"
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// Untold is why none of the causes is told of a tank as of the last tick, as far as the
// watch knows, in words: for who looks afterwards at what was missed. Nothing: one is.
func (w *Watch) Untold(id aquarium.TankID, causes []aquarium.Cause) (why []string) {
	t := w.places[id]
	if t == nil {
		return []string{"the tank is not watched"}
	}
	for _, s := range w.order {
		if s.id.Tank != id && s.id.Tank != "" || !slices.Contains(causes, s.id.Cause) {
			continue
		}
		switch parent := w.parent(s.id, w.now); {
		case s.shown == raised:
			return nil
		case s.stands && s.shown == withdrawn:
			why = append(why, fmt.Sprintf("%s is out of service", s.id.Cause))
		case s.stands && parent != "":
			why = append(why, fmt.Sprintf("%s is explained by %s", s.id.Cause, parent))
		case s.stands:
			why = append(why, fmt.Sprintf("%s goes by another name or is just over", s.id.Cause))
		case s.trueFrom != 0:
			why = append(why, fmt.Sprintf("%s is true for %s, and not for long enough", s.id.Cause, w.now.Sub(s.trueFrom)))
		}
	}
	if len(why) == 0 {
		why = append(why, "the readings do not come to it")
	}
	return append(why, t.holds(&w.view)...)
}

// holds is what has judging wait at the tank, or take something for what it is not.
func (t *tank) holds(v *view) (why []string) {
	since := func(what string, at aquarium.Instant) {
		if at != 0 {
			why = append(why, fmt.Sprintf("%s for %s", what, v.now.Sub(at).Round(time.Second)))
		}
	}
	switch {
	case v.visited(t.config.ID):
		why = append(why, "a visit is declared")
	case t.signs.areVisit():
		since("hands are taken to be at work", t.signs.began)
	default:
		since("signs of hands stand", t.signs.began)
	}
	since("the pH is in doubt", t.doubt.since)
	if d := &t.dosing; !t.doubted() && v.now.Sub(d.disturbed) < disturbedFor {
		since("the pH has been left to itself", d.disturbed)
	}
	since("no filter runs", t.pauses.from)
	if v.w.mains.lost {
		since("the site is without mains", v.w.mains.since)
	}
	if t.changing(v) {
		why = append(why, "the water is being changed, or may be")
	}
	for _, s := range t.order {
		switch x, refused := s.spells.Now(); {
		case s.heard == 0:
			why = append(why, fmt.Sprintf("%s was never heard", s.config.ID))
		case refused:
			why = append(why, fmt.Sprintf("%s is refused as %s", s.config.ID, x.Quality))
		case !s.current(v.now):
			since(fmt.Sprintf("%s is silent", s.config.ID), s.heard)
		}
	}
	return why
}
