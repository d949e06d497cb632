package screen

import (
	"math"

	"lentic/collector/aquarium"
)

// plan is what is known of a sensor before its first reading.
type plan struct {
	quantity aquarium.Quantity
	lo, hi   float64 // what it can be
	// water: it is read in the tank's own water, hundreds of litres that
	// cannot be elsewhere from one reading to the next.
	water  bool
	least  float64 // a step that is never far, in the first unit
	first  float64 // what is far before the sensor is known; 0: nothing is
	fill   float64 // share of the value that is never far
	load   int     // of a switch: its place among the loads; -1: none
	prompt bool    // it reports when it changes
	row    int     // of a sensor in the water: where its effects begin
}

// kinds are the steps that never matter, and those that always do: common
// practice, no source. A tenth of a pH is what a good calibration may change, and
// half a degree what two thermometers differ by; a tank of hundreds of litres
// does not step by half a pH or by three degrees.
var kinds = map[aquarium.Quantity]plan{
	aquarium.PH:           {water: true, least: 0.1, first: 0.5},
	aquarium.Temperature:  {water: true, least: 0.5, first: 3},
	aquarium.Conductivity: {water: true, least: 5, fill: 0.02},
	aquarium.Level:        {least: 2},
	aquarium.Volume:       {least: 1},
	aquarium.Flow:         {least: 20, fill: 0.05},
	aquarium.Humidity:     {least: 2},
	aquarium.Gas:          {least: 50},
	aquarium.Mass:         {least: 0.05},
	aquarium.Pressure:     {least: 10},
}

// An electrode that stands in any water or buffer reads between these: the
// outermost of the standard buffers are 1.68 and 12.45 (IUPAC 2002). Below and
// above lies what a transmitter says at the end of its range.
const (
	leastPH = 1.5
	mostPH  = 12.6
)

// planFor gives quantities that may jump as they like, a power that is switched
// and a number of unknown meaning, no measure: their steps are never far.
func planFor(c aquarium.Sensor) plan {
	p, ok := kinds[c.Quantity]
	if !ok {
		p.least = math.Inf(1)
	}
	p.quantity, p.load = c.Quantity, -1
	p.lo, p.hi = c.Quantity.Bounds()
	p.prompt = c.OnChange
	if c.Quantity == aquarium.PH {
		p.lo, p.hi = leastPH, mostPH
	}
	return p
}

// holds reports whether the sensor is a flow that tells its changes only: a filter stops
// once, and what was told last is so still if no more is said.
func (p *plan) holds() bool { return p.prompt && p.quantity == aquarium.Flow }

func (p *plan) possible(v float64) bool {
	return v >= p.lo && v <= p.hi && (p.quantity != aquarium.Switch || v == 0 || v == 1)
}

// isLoad reports whether a switch stands for a current that is switched: a float,
// a leak sensor and the mains say what is, and switch nothing.
func isLoad(t aquarium.Tank, id aquarium.SensorID) bool {
	e := t.Equipment
	switch {
	case e.Floor != nil && e.Floor.Wet == id,
		e.Power != nil && e.Power.Mains == id,
		e.TopOff != nil && (e.TopOff.Low == id || e.TopOff.High == id):
		return false
	}
	return true
}
