package measure

import (
	"math"

	"lentic/collector/aquarium"
)

// Deriver turns the readings of one sensor into samples. Only counters have a
// memory; readings of those are to be given oldest first. One goroutine at a
// time may use a Deriver.
type Deriver struct {
	key     aquarium.SensorKey
	sensor  aquarium.Sensor
	as      bool // as it is: a gateway's own item
	counter counter
}

// For is the deriver of a configured sensor.
func For(k aquarium.SensorKey, s aquarium.Sensor) *Deriver {
	return &Deriver{key: k, sensor: s}
}

// ForGateway is the deriver of one item of a gateway's health, which means
// what it says.
func ForGateway(k aquarium.SensorKey) *Deriver {
	return &Deriver{key: k, sensor: aquarium.Sensor{Quantity: aquarium.Number}, as: true}
}

// Sample is what r means, in the first unit of the sensor's quantity. It is
// false while that cannot be said: the first reading of a counter and the one
// after a reset, a pH in mV without its calibration, a unit that the sensor no
// longer has. A value that the quantity cannot have is OutOfRange, and false
// only if it is no finite number.
func (d *Deriver) Sample(r aquarium.Reading) (aquarium.Sample, bool) {
	v, ok := r.Value, true
	switch {
	case d.as:
	case d.sensor.Counter:
		v, ok = d.rate(r)
	case d.sensor.LitresPerMM != 0 && d.sensor.Quantity == aquarium.Volume:
		v, ok = d.volume(r)
	default:
		v, ok = d.convert(d.sensor.Quantity, d.linear(r.Value), r.Unit)
	}
	if !ok || math.IsNaN(v) || math.IsInf(v, 0) {
		return aquarium.Sample{}, false
	}
	return aquarium.Sample{Sensor: d.key, At: r.At, Value: v, Quality: d.quality(v, r)}, true
}

// Countable tells which values, as received, may enter sums with others: those
// that mean what the sensor's quantity can have. Nil: all may, as every total of
// a counter, for its rate can be told only from two. One goroutine at a time may
// use what it gives.
func Countable(s aquarium.Sensor) func(v float64, u aquarium.Unit) bool {
	if s.Counter {
		return nil
	}
	d := &Deriver{sensor: s}
	can := func(v float64, u aquarium.Unit) bool {
		m, ok := d.Sample(aquarium.Reading{Value: v, Unit: u})
		return ok && m.Quality.Judged()
	}
	if s.Quantity == aquarium.Switch {
		return can
	}
	// What a value means rises or falls with it, and a quantity is possible
	// between two bounds: so is a value between two that are.
	var lo, hi float64
	var unit aquarium.Unit
	known := false
	return func(v float64, u aquarium.Unit) bool {
		if known && u == unit && v >= lo && v <= hi {
			return true
		}
		if !can(v, u) {
			return false
		}
		if !known || u != unit {
			lo, hi, unit, known = v, v, u, true
		}
		lo, hi = min(lo, v), max(hi, v)
		return true
	}
}

func (d *Deriver) quality(v float64, r aquarium.Reading) aquarium.Quality {
	switch {
	case !d.sensor.Quantity.Possible(v):
		return aquarium.OutOfRange
	case r.Retimed:
		return aquarium.Retimed
	}
	return aquarium.Good
}

// linear is the keeper's own scale and offset. They act on the number as it
// was sent, in the unit it was sent in: that is the number a keeper compares
// with a meter.
func (d *Deriver) linear(v float64) float64 {
	if d.sensor.Scale != 0 {
		v *= d.sensor.Scale
	}
	return v + d.sensor.Offset
}

// convert brings v into the first unit of q. A reading stored before its
// sensor's quantity was changed may be in a unit that is no longer taken:
// nothing can be said of it.
func (d *Deriver) convert(q aquarium.Quantity, v float64, u aquarium.Unit) (float64, bool) {
	if u == "" && d.sensor.Unit != "" {
		u = d.sensor.Unit
	}
	if u == "" {
		u = q.Unit()
	}
	v, err := q.Convert(v, u)
	return v, err == nil
}

// volume reads a level as the litres it stands for; a device that sends litres
// already is taken at its word.
func (d *Deriver) volume(r aquarium.Reading) (float64, bool) {
	v := d.linear(r.Value)
	if r.Unit != "" && aquarium.Volume.Accepts(r.Unit) {
		return d.convert(aquarium.Volume, v, r.Unit)
	}
	mm, ok := d.convert(aquarium.Level, v, r.Unit)
	return mm * d.sensor.LitresPerMM, ok
}
