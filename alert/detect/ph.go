package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// The deadband is five times the resolution of a usual electrode; EEMUA 191
// asks for 1 % of the range for compositions, which for a range of 4 pH is
// 0.04. The delay is common practice, no source.
const (
	phBack = 0.05
	phOff  = 10 * time.Minute
)

// acidSeries is the tank's pH. The key is the equipment its alarms are about.
func (t *tank) acidSeries() (s *series, key aquarium.EquipmentKey, ok bool) {
	return t.pH, t.pHOf, t.pH != nil
}

// phSeries finds it: the CO2 controller's sensor, else the first there is.
func (t *tank) phSeries() (*series, aquarium.EquipmentKey) {
	if p := t.config.Equipment.CO2; p != nil && t.sensor(p.PH) != nil {
		return t.sensor(p.PH), "co2"
	}
	for _, s := range t.order {
		if s.config.Quantity == aquarium.PH {
			return s, ""
		}
	}
	return nil, ""
}

// acid is the tank's pH now; ok is false where it is not known, or not to be
// believed, or for a day has not shown that it is.
func (t *tank) acid(v *view) (s *series, key aquarium.EquipmentKey, ok bool) {
	s, key, ok = t.acidSeries()
	return s, key, ok && s.current(v.now) && !t.inHand(v, s) && !t.doubted() && !t.scatters() &&
		!(t.dosed() && t.doubt.unproven && v.now.Sub(t.doubt.ended) < day)
}

// acidEvidence is the pH against a bound, with the story of CO2 where it is the
// controller's pH.
func (t *tank) acidEvidence(v *view, s *series, limit float64) aquarium.Evidence {
	if g, ok := t.gasOf(v); ok && g.ph == s {
		e := g.evidence(v, t)
		e.Limit = of(limit)
		return e
	}
	return aquarium.Evidence{Sensor: s.config.ID, Value: s.value(), Unit: "pH", Limit: of(limit), PerHour: t.perHour(s, v.now)}
}

func (t *tank) holdPH(v *view, b side) {
	s, key, ok := t.acid(v)
	if !ok {
		return
	}
	b.key, b.back, b.off, b.step = key, phBack, phOff, phStep
	b.hold(v, t, s, func(limit float64) aquarium.Evidence {
		e := t.acidEvidence(v, s, limit)
		e.Excluded = append(e.Excluded, s.alive(v, vainOver)...)
		return e
	})
}

func blindPHBounds(t *aquarium.Tank) string {
	has := false
	for _, s := range t.Sensors {
		has = has || s.Quantity == aquarium.PH
	}
	switch {
	case !has:
		return "no pH sensor"
	case t.Limits.PH == nil:
		return "no bounds: limits.ph"
	}
	return ""
}
