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

func temperatureHigh(v *view, t *tank) {
	warmth(v, t, aquarium.TemperatureHigh, func(r aquarium.Range) (limit, sign float64) { return r.Hi, 1 })
}

func temperatureLow(v *view, t *tank) {
	warmth(v, t, aquarium.TemperatureLow, func(r aquarium.Range) (limit, sign float64) { return r.Lo, -1 })
}

// warmth holds the water against one of the keeper's bounds: sign is the side
// on which it is out.
func warmth(v *view, t *tank, c aquarium.Cause, side func(aquarium.Range) (limit, sign float64)) {
	s := t.water()
	if t.config.Limits.Temperature == nil || !s.current(v.now) {
		return
	}
	limit, sign := side(*t.config.Limits.Temperature)
	out := sign * (s.value() - limit)
	margin := 0.0
	if v.stands(c, t.config.ID, "") {
		margin = -warmthBack
	}
	prove := func() aquarium.Evidence {
		e := aquarium.Evidence{Sensor: s.config.ID, Value: s.value(), Unit: "Cel", Limit: of(limit)}
		if p, ok := t.trend(s, v.now, time.Hour); ok {
			e.PerHour = of(p)
		}
		if h := t.config.Equipment.Heater; h != nil {
			e.Facts = append(e.Facts, num(FactTarget, h.Target, "Cel"))
		}
		return e
	}
	v.find(c, t.config.ID, finding{true: out > margin, on: warmthOn, off: warmthOff, worse: sign * s.value(), step: warmthStep, prove: prove})
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
