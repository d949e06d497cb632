package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// A gateway on its battery says so at once. A minute passes over what comes back by
// itself, as when a line's breaker opens and closes again, which takes seconds: by
// the time anybody had read of it all would run again. EN 50160 calls an interruption
// of up to three minutes a short one (from memory); filters that do not start again
// are told for themselves. Common practice, no source.
const (
	mainsOn  = time.Minute
	mainsOff = 30 * time.Second
)

// powerLost: a site without mains, as its gateways say, or, where none of them
// can tell, as every tank with a mains sensor says.
func powerLost(v *view) {
	m := &v.w.mains
	if !m.known {
		return
	}
	v.find(aquarium.PowerLost, "", finding{true: m.lost, on: mainsOn, off: mainsOff, prove: func() (e aquarium.Evidence) {
		if m.lost {
			e.Facts = []aquarium.Fact{lasting(FactFor, v.now.Sub(m.since))}
		}
		return e
	}})
}

func blindPower(t *aquarium.Tank) string {
	if p := t.Equipment.Power; p == nil || t.Sensor(p.Mains) == nil {
		return "no mains sensor under power; a gateway's health with mains tells for the whole site"
	}
	return ""
}
