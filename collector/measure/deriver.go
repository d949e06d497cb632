package measure

import (
	"cmp"
	"math"
	"slices"

	"lentic/collector/aquarium"
	"lentic/collector/water"
)

// Deriver turns the readings of one sensor into samples. Only counters have a
// memory; readings of those are to be given oldest first. One goroutine at a
// time may use a Deriver.
type Deriver struct {
	key     aquarium.SensorKey
	sensor  aquarium.Sensor
	as      bool // as it is: a gateway's own item
	counter counter
	// electrode tells the calibrations of a pH; nil: none is known.
	electrode func() Electrode
	corrected bool
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

// Calibrated is d with a pH electrode's calibrations, which are asked for with
// each reading that needs them: one that is entered counts from then on.
func (d *Deriver) Calibrated(by func() Electrode) *Deriver {
	d.electrode = by
	return d
}

// Corrected is d with the drift of a pH electrode spread back over the time in
// which it grew. Readings that no calibration tells of are left as they are.
func (d *Deriver) Corrected() *Deriver {
	d.corrected = true
	return d
}

// Sample is what r means, in the first unit of the sensor's quantity. It is
// false while that cannot be said: the first reading of a counter and the one
// after a reset, a pH in mV before its first calibration, a unit that the sensor
// no longer has. A value that the quantity cannot have is OutOfRange, and false
// only if it is no finite number.
func (d *Deriver) Sample(r aquarium.Reading) (aquarium.Sample, bool) {
	v, ok := r.Value, true
	switch {
	case d.as:
	case d.sensor.Counter:
		v, ok = d.rate(r)
	case d.sensor.LitresPerMM != 0 && d.sensor.Quantity == aquarium.Volume:
		v, ok = d.volume(r)
	case d.sensor.Quantity == aquarium.PH && d.electrode != nil:
		v, ok = d.acidity(r)
	default:
		v, ok = d.convert(d.sensor.Quantity, d.linear(r.Value), r.Unit)
	}
	if !ok || math.IsNaN(v) || math.IsInf(v, 0) {
		return aquarium.Sample{}, false
	}
	return aquarium.Sample{Sensor: d.key, At: r.At, Value: v, Quality: d.quality(v, r)}, true
}

// Countable tells which values, as received, may enter sums with others: those
// that mean what the sensor's quantity can have, and of a pH in mV, whose
// calibration may be entered later, those that an electrode can give. Nil: all
// may, as every total of a counter, for its rate can be told only from two. One
// goroutine at a time may use what it gives.
func Countable(s aquarium.Sensor) func(v float64, u aquarium.Unit) bool {
	if s.Counter {
		return nil
	}
	d := &Deriver{sensor: s}
	can := func(v float64, u aquarium.Unit) bool {
		if s.Quantity == aquarium.PH && d.unit(aquarium.PH, u) == millivolts {
			return water.Millivolt(d.linear(v)).Possible()
		}
		m, ok := d.Sample(aquarium.Reading{Value: v, Unit: u})
		return ok && m.Quality.Judged()
	}
	if s.Quantity == aquarium.Switch {
		return onOff(can)
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

// onOff is can for a switch, which says one of two values again and again.
func onOff(can func(v float64, u aquarium.Unit) bool) func(v float64, u aquarium.Unit) bool {
	var unit aquarium.Unit
	var known [2]float64
	n := 0
	return func(v float64, u aquarium.Unit) bool {
		if u == unit && slices.Contains(known[:n], v) {
			return true
		}
		if !can(v, u) {
			return false
		}
		if u != unit {
			unit, n = u, 0
		}
		if n < len(known) {
			known[n] = v
			n++
		}
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
	v, err := q.Convert(v, d.unit(q, u))
	return v, err == nil
}

// unit is u, else the sensor's, else the first of q.
func (d *Deriver) unit(q aquarium.Quantity, u aquarium.Unit) aquarium.Unit {
	return cmp.Or(u, d.sensor.Unit, q.Unit())
}

// acidity is a pH by its electrode's calibrations. The electrode is taken to be
// as warm as its buffers were: 5 Cel beside move pH 6 and 8 by 0.017.
func (d *Deriver) acidity(r aquarium.Reading) (float64, bool) {
	v, u := d.linear(r.Value), d.unit(aquarium.PH, r.Unit)
	var curve water.Calibration
	known := false
	switch {
	case d.corrected:
		curve, known = d.electrode().Drifted(r.At, u)
	case u == millivolts:
		curve, known = d.electrode().InForce(r.At)
	}
	if !known {
		return d.convert(aquarium.PH, v, u)
	}
	var ph water.PH
	var err error
	if u == millivolts {
		ph, err = curve.PH(water.Millivolt(v), curve.Temperature())
	} else if ph, err = curve.Corrected(water.PH(v)); err != nil {
		return d.convert(aquarium.PH, v, u) // no pH at all, and flagged so
	}
	return float64(ph), err == nil
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
