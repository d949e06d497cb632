package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// tankPowerLost: a site alive and a tank dark. Where the whole site is without
// mains, that is said of the site.
func tankPowerLost(v *view, t *tank) {
	p := t.config.Equipment.Power
	if p == nil {
		return
	}
	s := t.parts.mains
	if !s.current(v.now) {
		return
	}
	v.find(aquarium.TankPowerLost, t.config.ID, finding{
		equipment: "power", true: !s.on && !v.w.mains.lost, on: v.gatewaySays(), off: mainsOff,
		prove: func() aquarium.Evidence {
			return aquarium.Evidence{Sensor: p.Mains, Facts: []aquarium.Fact{lasting(FactFor, v.now.Sub(s.since))}}
		},
	})
}

// gatewaySays is how long a gateway may take to tell that it is the whole site.
func (v *view) gatewaySays() time.Duration {
	on := mainsOn
	for _, s := range v.w.gateways {
		if s.item == aquarium.GatewayMains && s.current(v.now) {
			on = max(on, min(s.interval(), 2*time.Minute)+mainsOn)
		}
	}
	return on
}

func blindTankPower(t *aquarium.Tank) string {
	if p := t.Equipment.Power; p == nil || t.Sensor(p.Mains) == nil {
		return "no mains sensor under power"
	}
	return ""
}
