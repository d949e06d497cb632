package detect

import "lentic/collector/aquarium"

// coolingNotCooling: the water warms though it is to be cooled. As for the
// heater, and by the same reasoning, it is told before the water is 1.5 from its
// target: fish bear two degrees more for a day, and the keeper needs half of
// that to come.
func coolingNotCooling(v *view, t *tank) {
	c := t.config.Equipment.Cooling
	if c == nil {
		return
	}
	w, ok := v.warmthOf(t.parts.cooled, c.Target)
	if !ok || w.over < coldUnder && v.unheard(aquarium.CoolingNotCooling, t.config.ID, "cooling") || t.disturbed(v, warmAgain) {
		return
	}
	w.ask(v, t.parts.cooler)
	is := false
	if v.stands(aquarium.CoolingNotCooling, t.config.ID, "cooling") {
		is = w.over > coldBack
	} else if w.over >= coldUnder {
		is = w.uncooled(v, t)
	}
	v.find(aquarium.CoolingNotCooling, t.config.ID, finding{
		equipment: "cooling", true: is, on: coldOn, off: coldOff, worse: w.over, step: warmthStep,
		prove: func() aquarium.Evidence { return w.evidence(v, t, "on", "off") },
	})
}

// uncooled reports whether the water gets no cooler though it is to, or though
// nobody asks for it long enough.
func (w *warmth) uncooled(v *view, t *tank) bool {
	if w.known && w.on && w.since < coldSettle || w.known && !w.on && w.since < coldUnasked {
		return false
	}
	return w.moved(v, -1) < coldRise
}

func blindCooling(t *aquarium.Tank) string {
	switch c := t.Equipment.Cooling; {
	case c == nil:
		return "no cooling under equipment"
	case t.Sensor(c.Temperature) == nil:
		return "no temperature sensor under cooling"
	case c.Target == 0:
		return "no target under cooling"
	}
	return ""
}
