package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// A gateway whose clock is wrong sends a wrong time with every message; ten
// minutes without one are the end of it.
const clockOff = 10 * time.Minute

// gatewayClock: a record was set aside because its time cannot be right.
func gatewayClock(v *view) {
	for _, s := range v.w.gateways {
		if s.item != aquarium.GatewayClock || len(s.points) == 0 {
			continue
		}
		g, _, _ := aquarium.SplitGatewaySensor(s.key.Sensor)
		last := s.points[len(s.points)-1]
		v.find(aquarium.GatewayClockWrong, "", finding{
			equipment: aquarium.EquipmentKey(g), true: v.now.Sub(last.at) < clockOff,
			prove: func() aquarium.Evidence { return aquarium.Evidence{Value: last.v, Unit: "s"} },
		})
	}
}
