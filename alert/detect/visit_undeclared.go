package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// visitUndeclared: several machines and probes disturbed at once, as a visit
// does. It is told as soon as its signs are those of hands: what it explains is
// not told beside it, and what was told of its first minutes returns. The
// deadline is this program's own: by the time a visitor has put the water back,
// for until then it cannot always be told from a hose that has burst.
func visitUndeclared(v *view, t *tank) {
	g := &t.signs
	stands := v.stands(aquarium.VisitUndeclared, t.config.ID, "")
	if g.began == 0 && !stands {
		return
	}
	is := g.began != 0 && (stands || g.stop != 0 || g.areVisit())
	v.find(aquarium.VisitUndeclared, t.config.ID, finding{
		true: is, since: g.began,
		prove: func() aquarium.Evidence {
			e := aquarium.Evidence{Facts: []aquarium.Fact{word(FactSigns, g.words()), lasting(FactFor, v.now.Sub(g.began))}}
			switch {
			case g.stop != 0:
				t.socketOff(v, &e)
			case g.first[waterIn] != 0:
				e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookBurst, Because: word(FactSigns, "water came back")})
			case g.first[waves] != 0:
				e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookBurst, Because: word(FactSigns, "waves before any water left")})
			case g.offFirst:
				e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookBurst, Because: word(FactSigns, "filters off before any water left")})
			case g.first[inTurn] != 0:
				e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookBurst, Because: word(FactSigns, "one filter after another")})
			case g.first[probeOut] != 0:
				e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookBurst, Because: word(FactSigns, "probe out of a full tank")})
			}
			return e
		},
	})
}

// visitedLately reports whether a visit that was declared has just ended: what
// is still disturbed then is its.
func (t *tank) visitedLately(v *view) bool { return t.visitedWithin(v, boutEnds) }

// disturbed reports whether somebody is at work at the tank, declared or not, or
// was within so long.
func (t *tank) disturbed(v *view, ago time.Duration) bool {
	return v.visited(t.config.ID) || t.visitedWithin(v, ago) || t.signs.areVisit() || t.signs.over != 0 && v.now.Sub(t.signs.over) < ago
}

// visitedWithin reports whether a declared visit has ended within so long.
func (t *tank) visitedWithin(v *view, ago time.Duration) bool {
	for _, e := range v.visits {
		if e.Until != 0 && e.Until <= v.now && v.now.Sub(e.Until) < ago &&
			e.Concerns(aquarium.TankKey{Site: v.w.site.ID, Tank: t.config.ID}) {
			return true
		}
	}
	return false
}

// startedByVisit reports whether an alarm is one of those that the first minutes
// of a visit that is now known to be one have raised.
func (w *Watch) startedByVisit(s *state) bool {
	if !w.ofGuessedVisit(s.id) {
		return false
	}
	visit := w.states[aquarium.Identity{Site: w.site.ID, Tank: s.id.Tank, Cause: aquarium.VisitUndeclared}]
	return visit != nil && visit.stands && s.since.Add(levelMoves) >= visit.since
}

func blindVisit(t *aquarium.Tank) string {
	probes := 0
	for _, s := range t.Sensors {
		if outOfHand[s.Quantity] > 0 {
			probes++
		}
	}
	if probes == 0 && newTank("", t).level == nil {
		return "neither a pH, a temperature nor a level: nothing shows hands at work"
	}
	return ""
}
