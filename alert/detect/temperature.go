package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// Some hundred litres change by about half a degree an hour at most, so five
// minutes lose nothing; EEMUA 191 asks for a deadband of 1 % of the range,
// which for 30 Cel is 0.3. A further degree is worth telling again. The delays
// are common practice, no source.
const (
	warmthBack = 0.3
	warmthOn   = 5 * time.Minute
	warmthOff  = 10 * time.Minute
	warmthStep = 1.0
)

func (t *tank) holdWarmth(v *view, b side) {
	s := t.water()
	if !s.current(v.now) {
		return
	}
	b.back, b.on, b.off, b.step = warmthBack, warmthOn, warmthOff, warmthStep
	b.hold(v, t, s, func(limit float64) aquarium.Evidence {
		e := aquarium.Evidence{Sensor: s.config.ID, Value: s.value(), Unit: "Cel", Limit: of(limit)}
		if p, ok := t.trend(s, v.now, time.Hour); ok {
			e.PerHour = of(p)
		}
		if h := t.config.Equipment.Heater; h != nil {
			e.Facts = append(e.Facts, num(FactTarget, h.Target, "Cel"))
			if on, known := t.on(h.Switch, v.now); known {
				e.Facts = append(e.Facts, word(FactHeater, stateWord(on, known, "on", "off")))
			}
		}
		if room, ok := t.room(v); ok {
			e.Facts = append(e.Facts, num(FactRoom, room, "Cel"))
		}
		return e
	})
}

func blindTemperature(t *aquarium.Tank) string {
	tank := newTank("", t)
	switch {
	case tank.water() == nil:
		return "no temperature sensor in the water"
	case t.Limits.Temperature == nil:
		return "no bounds: limits.temperature"
	}
	return ""
}
