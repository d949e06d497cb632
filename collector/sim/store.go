package sim

import "lentic/collector/aquarium"

// Common practice, no source.
const (
	defaultCapacityL  = 150.0
	defaultProduction = 50.0
	refillBelow       = 0.8  // of the capacity
	overflowAt        = 1.15 // of the capacity: the reservoir's own rim
	concentratePerL   = 1.5  // what reverse osmosis sends to the waste for a litre
)

// reservoir holds the stored reverse-osmosis water.
type reservoir struct {
	litres, capacity, production float64
	refilling                    bool    // commanded
	normal                       float64 // l/h it should make now
	made                         float64
}

func newReservoir(tank aquarium.Tank, own func(string) stream) reservoir {
	r := reservoir{capacity: defaultCapacityL, production: defaultProduction}
	if e := tank.Equipment.Reservoir; e != nil {
		if e.CapacityL > 0 {
			r.capacity = e.CapacityL
		}
		if e.ProductionLH > 0 {
			r.production = e.ProductionLH
		}
	}
	r.litres = r.capacity * own("reservoir").between(0.85, 0.99)
	return r
}

// stepReservoir refills from four fifths to full, and spills over its rim.
func (t *Tank) stepReservoir() {
	r, s := &t.reservoir, &t.trouble
	r.made = 0
	switch {
	case t.tank.Equipment.Reservoir == nil || s.dark:
		r.refilling = false
	case s.refillOn:
		r.refilling = true
	case r.litres >= r.capacity:
		r.refilling = false
	case r.litres < refillBelow*r.capacity:
		r.refilling = true
	}
	r.normal = r.production * t.room.membrane
	switch {
	case r.refilling && !s.refillDead:
		r.made = r.normal * s.refillShare * stepHours
	case s.refillShut > 0 && !s.dark && t.tank.Equipment.Reservoir != nil:
		r.made = r.normal * s.refillShut * stepHours
	}
	r.litres += r.made
	r.litres -= min(r.litres, s.usedLH*stepHours)
	if leak := min(r.litres, s.reservoirLH*stepHours); leak > 0 {
		r.litres -= leak
		t.vessel.puddle += leak
	}
	if over := r.litres - overflowAt*r.capacity; over > 0 {
		r.litres -= over
		t.vessel.puddle += over
	}
}

// Common practice, no source.
const (
	wasteLPerMM   = 0.25   // a container of half a metre by half a metre
	wastePumpLH   = 1000.0 // its pump
	rinseLH       = 0.3    // what drips in from sink and condensate
	defaultStart  = 250.0
	defaultStop   = 60.0
	spillsAboveMM = 20.0 // above the level the configuration calls an overflow
)

// waste is the container that gathers what is thrown away.
type waste struct {
	mm                  float64
	start, stop, spills float64 // spills 0: not known
	pumping             bool    // commanded
}

func newWaste(tank aquarium.Tank, own func(string) stream) waste {
	w := waste{start: defaultStart, stop: defaultStop}
	if e := tank.Equipment.Drain; e != nil {
		if e.StartMM > 0 {
			w.start, w.stop = e.StartMM, e.StopMM
		}
		if e.OverflowMM > 0 {
			w.spills = e.OverflowMM + spillsAboveMM
		}
	}
	w.mm = own("waste").between(w.stop, w.start)
	return w
}

// stepWaste takes in what reverse osmosis and water changes throw away.
func (t *Tank) stepWaste() {
	w, s := &t.waste, &t.trouble
	if t.tank.Equipment.Drain == nil {
		return
	}
	w.mm += (t.reservoir.made*concentratePerL + t.change.out + (rinseLH+s.drainLH)*stepHours) / wasteLPerMM
	switch {
	case s.dark || w.mm <= w.stop:
		w.pumping = false
	case w.mm >= w.start:
		w.pumping = true
	}
	if w.pumping && !s.drainDead {
		w.mm = max(0, w.mm-wastePumpLH*stepHours/wasteLPerMM)
	}
	if w.spills > 0 && w.mm > w.spills {
		t.vessel.puddle += (w.mm - w.spills) * wasteLPerMM
		w.mm = w.spills
	}
}
