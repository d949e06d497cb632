package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// Ten of a sensor's own intervals, and never less than ten minutes, so that a
// gateway's restart is no alarm; three missed refreshes of one that only
// reports changes. Twenty minutes for a whole site, two hours until that is
// urgent by itself.
const (
	silentIntervals = 10
	silentLeast     = 10 * time.Minute
	silentRefreshes = 3
	siteSilentFor   = 20 * time.Minute
	siteUrgentFor   = 2 * time.Hour
	// siteQuiet is when a site as a whole has gone quiet: a sensor's own
	// silence says nothing then, until the site is heard again.
	siteQuiet  = 3 * time.Minute
	quietShare = 4 // ... and at least that part of what the site is given
	// They are told by then: a look comes once a step, and the one before is the last
	// that is in time.
	silentAhead = aquarium.Step
)

// sensorSilent: no readings from one sensor while others of the site are heard.
// A sensor that was never heard is not silent; the page says so of it.
func sensorSilent(v *view, t *tank) {
	deaf, since := v.deaf()
	if deaf || v.now.Sub(max(v.w.heard, since)) > siteQuiet && !v.w.standing(aquarium.SiteSilent) {
		return
	}
	for _, s := range t.order {
		limit := s.patience()
		if s.heard == 0 || limit == 0 {
			continue
		}
		quiet := v.now.Sub(max(s.heard, since, v.w.resumed))
		if quiet < limit && len(t.states[v.rank]) == 0 {
			continue // nothing is and nothing was, as nearly always
		}
		if x := v.state(aquarium.SensorSilent, t.config.ID, aquarium.EquipmentKey(s.config.ID)); x != nil && x.shown == raised {
			quiet = v.now.Sub(s.heard) // what was told is over when it is heard, and not when others are
		}
		v.find(aquarium.SensorSilent, t.config.ID, finding{
			equipment: aquarium.EquipmentKey(s.config.ID), true: quiet >= limit,
			prove: func() aquarium.Evidence { return s.lastKnown(v.now) },
		})
	}
}

// patience is how long a sensor may say nothing; 0: for ever.
func (s *series) patience() time.Duration {
	if s.config.OnChange {
		return silentRefreshes * s.config.Refresh
	}
	i := s.interval()
	if i == 0 {
		return 0
	}
	return max(silentLeast, silentIntervals*i) - silentAhead
}

func (s *series) lastKnown(t aquarium.Instant) aquarium.Evidence {
	e := aquarium.Evidence{Sensor: s.config.ID, LastKnown: true, Unit: s.config.Quantity.Unit(),
		Facts: []aquarium.Fact{lasting(FactSilent, t.Sub(s.heard))}}
	if n := len(s.points); n > 0 {
		e.Value = s.points[n-1].v
	}
	return e
}

// siteSilentIs is how urgent that is by itself.
var siteSilentIs = aquarium.SiteSilent.Priority()

// siteSilent: nothing at all from a site. It is urgent after two hours, or at
// once while a high alarm stands there, for then nobody sees how that goes on.
func siteSilent(v *view) {
	deaf, since := v.deaf()
	if deaf || v.w.heard == 0 {
		return
	}
	quiet := v.now.Sub(max(v.w.heard, since))
	f := finding{true: quiet >= v.w.sitePatience()-silentAhead, priority: siteSilentIs, prove: func() aquarium.Evidence {
		return aquarium.Evidence{Facts: []aquarium.Fact{lasting(FactSilent, v.now.Sub(v.w.heard))}}
	}}
	if quiet >= siteUrgentFor || v.w.urgent() {
		f.priority = aquarium.High
	}
	v.find(aquarium.SiteSilent, "", f)
}

// sitePatience is twenty minutes, or three intervals of the sensor that reports
// most often where that is longer.
func (w *Watch) sitePatience() time.Duration {
	var shortest time.Duration
	for _, t := range w.tanks {
		for _, s := range t.order {
			if i := s.interval(); i > 0 && (shortest == 0 || i < shortest) {
				shortest = i
			}
		}
	}
	return max(siteSilentFor, 3*shortest)
}

// lull is how long a site may be quiet as a whole without having been away: where all
// tell their changes only, until the first of them should have told the same again.
func (w *Watch) lull() time.Duration {
	var refresh time.Duration
	lull := max(siteQuiet, w.sitePatience()/quietShare)
	for _, t := range w.tanks {
		for _, s := range t.order {
			switch {
			case s.heard == 0:
			case !s.config.OnChange:
				return lull
			case refresh == 0 || s.config.Refresh < refresh:
				refresh = s.config.Refresh
			}
		}
	}
	return max(lull, refresh)
}

// urgent reports whether a high alarm stands at the site.
func (w *Watch) urgent() bool {
	for _, s := range w.order {
		if s.stands && s.shown == raised && s.priority == aquarium.High && s.id.Cause != aquarium.SiteSilent {
			return true
		}
	}
	return false
}
