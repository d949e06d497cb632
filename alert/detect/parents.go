package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// recovery is how long after mains is back a machine may still be on its way
// up: a canister filter that lost its prime needs minutes to run again. Common
// practice, no source.
const recovery = 5 * time.Minute

// parent is the cause that explains an identity now, or "".
func (w *Watch) parent(id aquarium.Identity, at aquarium.Instant) aquarium.Cause {
	switch id.Cause {
	case aquarium.SensorSilent:
		if w.standing(aquarium.SiteSilent) {
			return aquarium.SiteSilent
		}
	case aquarium.FilterStalled, aquarium.HeaterNotHeating, aquarium.LightsNotOn, aquarium.CO2NotDosing:
		if w.mains.lost || w.mains.back != 0 && at.Sub(w.mains.back) < recovery || w.standing(aquarium.PowerLost) {
			return aquarium.PowerLost
		}
	}
	return ""
}

func (w *Watch) standing(c aquarium.Cause) bool {
	s := w.states[aquarium.Identity{Site: w.site.ID, Cause: c}]
	return s != nil && s.stands
}

// mains follows whether the site has it.
type mains struct {
	known, lost bool
	since       aquarium.Instant // of the loss
	back        aquarium.Instant // when it last came back; 0: it never was away
}

// follow asks the gateways first; where none of them knows, a site whose every
// tank with a mains sensor is dark is without.
func (m *mains) follow(v *view) {
	known, dark, lit := false, false, false
	var since aquarium.Instant
	count := func(s *series) {
		if !s.current(v.now) {
			return
		}
		known = true
		if s.on {
			lit = true
			return
		}
		dark, since = true, max(since, s.since)
	}
	for id, s := range v.w.remote {
		if _, item, ok := aquarium.SplitGatewaySensor(id); ok && item == aquarium.GatewayMains {
			count(s)
		}
	}
	if !known {
		for _, t := range v.w.tanks {
			if p := t.config.Equipment.Power; p != nil {
				if s := t.sensors[p.Mains]; s != nil {
					count(s)
				}
			}
		}
	}
	if !known {
		m.known = false // what was so stays so: silence is not normal
		return
	}
	m.known = true
	lost := dark && !lit
	if m.lost && !lost {
		m.back = v.now
	}
	if lost && !m.lost {
		m.since = since
	}
	m.lost = lost
}
