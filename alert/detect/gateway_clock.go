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
	for id, s := range v.w.remote {
		g, item, ok := aquarium.SplitGatewaySensor(id)
		if !ok || item != aquarium.GatewayClock || len(s.points) == 0 {
			continue
		}
		last := s.points[len(s.points)-1]
		v.find(aquarium.GatewayClockWrong, "", finding{
			equipment: aquarium.EquipmentKey(g), true: v.now.Sub(last.at) < clockOff,
			evidence: aquarium.Evidence{Value: last.v, Unit: "s"},
		})
	}
}
