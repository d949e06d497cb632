package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// Ten of a sensor's own intervals, and never less than ten minutes, so that a
// gateway's restart is no alarm; three missed refreshes of one that only
// reports changes.
const (
	silentIntervals = 10
	silentLeast     = 10 * time.Minute
	silentRefreshes = 3
	// It is told by then: a look comes once a step, and the one before is the last
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
	if v.now < t.silent && len(t.states[v.rank]) == 0 {
		return // as nearly always
	}
	t.silent = never
	for _, s := range t.order {
		limit := s.patience()
		if s.heard == 0 || s.config.OnChange && limit == 0 {
			continue
		}
		t.silent = min(t.silent, s.heard.Add(s.leastPatience()))
		if limit == 0 {
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
			prove: func() aquarium.Evidence {
				e := s.lastKnown(v.now)
				if v.w.heard > s.heard {
					e.Excluded = []aquarium.Excluded{{What: aquarium.LookSite, Because: lasting(FactHeard, v.now.Sub(v.w.heard))}}
				}
				return e
			},
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

// leastPatience is what patience never is less than, whatever the interval turns out to be.
func (s *series) leastPatience() time.Duration {
	if s.config.OnChange {
		return s.patience()
	}
	return silentLeast - silentAhead
}

func (s *series) lastKnown(t aquarium.Instant) aquarium.Evidence {
	e := aquarium.Evidence{Sensor: s.config.ID, LastKnown: true, Unit: s.config.Quantity.Unit(),
		Facts: []aquarium.Fact{lasting(FactSilent, t.Sub(s.heard))}}
	if n := len(s.points); n > 0 {
		e.Value = s.points[n-1].v
	}
	return e
}
