package detect

import "lentic/collector/aquarium"

// tankPowerLost: a site alive and a tank dark. Where the whole site is without
// mains, that is said of the site.
func tankPowerLost(v *view, t *tank) {
	p := t.config.Equipment.Power
	if p == nil {
		return
	}
	s := t.sensor(p.Mains)
	if !s.current(v.now) {
		return
	}
	v.find(aquarium.TankPowerLost, t.config.ID, finding{
		equipment: "power", true: !s.on && !v.w.mains.lost, on: mainsOn, off: mainsOff,
		prove: func() aquarium.Evidence {
			return aquarium.Evidence{Sensor: p.Mains, Facts: []aquarium.Fact{lasting(FactFor, v.now.Sub(s.since))}}
		},
	})
}

func blindTankPower(t *aquarium.Tank) string {
	if p := t.Equipment.Power; p == nil || t.Sensor(p.Mains) == nil {
		return "no mains sensor under power"
	}
	return ""
}
