package sim

import (
	"math"

	"lentic/collector/aquarium"
	"lentic/collector/water"
)

// look is how a quantity is seen by the probes of the trade, in its first unit:
// common practice, no source.
type look struct{ noise, resolution float64 }

var looks = map[aquarium.Quantity]look{
	aquarium.PH:           {0.004, 0.01},
	aquarium.Temperature:  {0.03, 0.1},
	aquarium.Level:        {0.3, 1},
	aquarium.Volume:       {0.2, 0.5},
	aquarium.Flow:         {8, 10},
	aquarium.Conductivity: {1, 1},
	aquarium.Humidity:     {0.5, 0.5},
	aquarium.Gas:          {8, 1},
	aquarium.Power:        {1, 1},
	aquarium.Mass:         {0.002, 0.01},
	aquarium.Pressure:     {5, 10},
	aquarium.Number:       {0.1, 0.1},
}

// source is what a sensor looks at, in its quantity's first unit.
type source func(*Tank) float64

// probe is one sensor of the configuration.
type probe struct {
	key    aquarium.SensorKey
	sensor aquarium.Sensor
	unit   aquarium.Unit
	source source
	noise  stream
	look   look
	total  bool // source is a running total to be counted
	// What is sent is (value in the first unit - offset) / scale.
	scale, offset float64

	silent, frozen, wasFrozen bool
	wrongUnit                 bool
	wild                      float64 // share of the readings
	outliers                  float64 // the share that is so even in a healthy tank
	held                      float64
}

func newProbes(tank aquarium.Tank, site aquarium.SiteID, steps float64, own func(string) stream) []probe {
	rs := roles(tank)
	ps := make([]probe, 0, len(tank.Sensors))
	for _, s := range tank.Sensors {
		p := probe{
			key:    aquarium.SensorKey{Site: site, Tank: tank.ID, Sensor: s.ID},
			sensor: s, unit: s.Unit, noise: own("probe " + string(s.ID)), look: looks[s.Quantity],
			source: rs[s.ID], scale: 1,
		}
		if s.Quantity == aquarium.Level && steps > 0 {
			p.look.resolution = steps
		}
		if p.unit == "" {
			p.unit = s.Quantity.Unit()
		}
		if p.source == nil {
			p.source = unassigned(s.Quantity)
		}
		if i := filterOf(tank, s.ID); s.Counter && i >= 0 {
			p.total = true
			p.source = func(t *Tank) float64 { return t.filters[i].total }
		}
		p.scale, p.offset = sent(s, p.unit)
		ps = append(ps, p)
	}
	return ps
}

// sent is the line from what arrives to the quantity's first unit: conversion,
// then the sensor's own scale and offset, then litres per millimetre.
func sent(s aquarium.Sensor, u aquarium.Unit) (scale, offset float64) {
	scale = 1
	if zero, err := s.Quantity.Convert(0, u); err == nil {
		one, _ := s.Quantity.Convert(1, u)
		scale, offset = one-zero, zero
	}
	if s.Scale != 0 {
		scale, offset = scale*s.Scale, offset*s.Scale
	}
	offset += s.Offset
	if s.LitresPerMM > 0 {
		scale, offset = scale*s.LitresPerMM, offset*s.LitresPerMM
	}
	return scale, offset
}

// value is what the sensor sends at that instant.
func (p *probe) value(t *Tank, at aquarium.Instant) float64 {
	v := p.source(t)
	switch {
	case p.sensor.Quantity == aquarium.Switch:
		return v
	case p.total:
		per := p.sensor.PerUnit
		if per <= 0 {
			per = 1
		}
		return math.Floor(v * per)
	}
	if p.sensor.Quantity != aquarium.Flow || v > 0 { // a still impeller is still
		v += p.look.noise * p.noise.normal(at)
		v = p.spike(v, at)
	}
	if p.unit == "mV" && p.sensor.Quantity == aquarium.PH {
		return p.millivolt(t, v)
	}
	v = math.Round(v/p.look.resolution) * p.look.resolution
	if p.wrongUnit {
		v = misread(p.sensor.Quantity, v)
	}
	if !belowZero[p.sensor.Quantity] {
		v = max(0, v)
	}
	return tidy((v - p.offset) / p.scale)
}

// spike throws a reading off now and then, by twenty to a hundred times the
// noise: common practice, no source.
func (p *probe) spike(v float64, at aquarium.Instant) float64 {
	share := max(p.wild, p.outliers)
	if share == 0 {
		return v
	}
	x := (p.noise + 1).uniform(int64(at))
	if x >= share {
		return v
	}
	far := p.look.noise * (20 + 80*(p.noise+2).uniform(int64(at)))
	if x < share/2 {
		return v - far
	}
	return v + far
}

// misread is a value in the unit that is most often taken for the first one.
func misread(q aquarium.Quantity, v float64) float64 {
	switch q {
	case aquarium.Level:
		return v / 10 // cm
	case aquarium.Temperature:
		return v*1.8 + 32
	}
	return v / 1000
}

// belowZero are the quantities whose values may lie below zero.
var belowZero = map[aquarium.Quantity]bool{aquarium.Level: true, aquarium.Temperature: true, aquarium.Number: true}

// millivolt is a pH as an ideal electrode gives it, to a tenth.
func (p *probe) millivolt(t *Tank, ph float64) float64 {
	mv, err := water.IdealElectrode(water.PH(min(14, max(0, ph))), water.Celsius(t.heat.temperature))
	if err != nil {
		return 0
	}
	return math.Round(float64(mv)*10) / 10
}

// tidy takes off the dust of binary fractions: 6.58 and not 6.580000000000001.
func tidy(v float64) float64 { return math.Round(v*1e6) / 1e6 }
