package aquarium

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Quantity is what a sensor measures.
type Quantity string

const (
	PH           Quantity = "ph"
	Temperature  Quantity = "temperature"
	Level        Quantity = "level"
	Volume       Quantity = "volume"
	Flow         Quantity = "flow"
	Conductivity Quantity = "conductivity"
	Switch       Quantity = "switch"
	Humidity     Quantity = "humidity"
	Gas          Quantity = "gas"
	Power        Quantity = "power"
	Mass         Quantity = "mass"
	Pressure     Quantity = "pressure"
	Number       Quantity = "number" // any unit; judged by the sensor causes only
)

// Unit is a SenML symbol (RFC 8428, RFC 8798) or a UCUM code. The empty unit
// is that of switches and of numbers without one.
type Unit string

// conversion brings a value into the first unit: v*scale + offset.
type conversion struct {
	unit          Unit
	scale, offset float64
}

// measure is what lentic knows of a quantity. The first conversion is the unit
// that readings are shown, judged and exported in.
type measure struct {
	units []conversion
	// lo and hi bound what the quantity can be on premises with a tank at
	// all; beyond them a value is kept and drawn, and never judged. They
	// are wide on purpose: common practice, no source.
	lo, hi float64
}

// Exact by definition: the US gallon is 3.785411784 l, the imperial gallon
// 4.54609 l, the inch 25.4 mm (international yard and pound agreement 1959,
// Weights and Measures Act 1985); 0 Cel is 273.15 K.
const (
	litresPerGallonUS = 3.785411784
	litresPerGallonBR = 4.54609
	kelvinAtZero      = 273.15
)

var measures = map[Quantity]measure{
	PH:           {[]conversion{{"pH", 1, 0}, {"mV", math.NaN(), math.NaN()}}, 0, 14},
	Temperature:  {[]conversion{{"Cel", 1, 0}, {"K", 1, -kelvinAtZero}, {"[degF]", 5.0 / 9, -160.0 / 9}}, -30, 70},
	Level:        {[]conversion{{"mm", 1, 0}, {"cm", 10, 0}, {"m", 1000, 0}, {"[in_i]", 25.4, 0}}, -2000, 5000},
	Volume:       {[]conversion{{"l", 1, 0}, {"[gal_us]", litresPerGallonUS, 0}, {"[gal_br]", litresPerGallonBR, 0}}, -50, 50000},
	Flow:         {[]conversion{{"l/h", 1, 0}, {"l/min", 60, 0}, {"l/s", 3600, 0}, {"[gal_us]/h", litresPerGallonUS, 0}}, -200, 50000},
	Conductivity: {[]conversion{{"uS/cm", 1, 0}, {"mS/cm", 1000, 0}, {"S/m", 10000, 0}}, 0, 100000},
	Switch:       {[]conversion{{"", 1, 0}, {"/", 1, 0}}, 0, 1},
	Humidity:     {[]conversion{{"%RH", 1, 0}}, 0, 105},
	Gas:          {[]conversion{{"ppm", 1, 0}}, 0, 200000},
	Power:        {[]conversion{{"W", 1, 0}, {"kW", 1000, 0}}, -100, 50000},
	Mass:         {[]conversion{{"kg", 1, 0}, {"g", 0.001, 0}}, -5, 2000},
	Pressure:     {[]conversion{{"kPa", 1, 0}, {"Pa", 0.001, 0}, {"hPa", 0.1, 0}}, -100, 30000},
	Number:       {[]conversion{{"", 1, 0}}, math.Inf(-1), math.Inf(1)},
}

// Quantities lists every quantity, in the order the manual does.
func Quantities() []Quantity {
	return []Quantity{PH, Temperature, Level, Volume, Flow, Conductivity, Switch, Humidity, Gas, Power, Mass, Pressure, Number}
}

// Known reports whether q is one of Quantities.
func (q Quantity) Known() bool { _, ok := measures[q]; return ok }

// Unit is the first unit of q: the one readings are shown, judged and exported
// in. It is empty for switches, numbers and unknown quantities.
func (q Quantity) Unit() Unit {
	if m, ok := measures[q]; ok {
		return m.units[0].unit
	}
	return ""
}

// Units lists the units q is taken in, the first unit first.
func (q Quantity) Units() []Unit {
	var us []Unit
	for _, c := range measures[q].units {
		us = append(us, c.unit)
	}
	return us
}

// Accepts reports whether a reading of q may carry u. A number takes any unit.
func (q Quantity) Accepts(u Unit) bool {
	return q == Number || slices.Contains(q.Units(), u)
}

// Convert brings v from u into the first unit of q. Millivolts of a pH
// electrode need its calibration and are not converted here: that is
// ErrNeedsCalibration. Other units of q never fail; any other unit is
// ErrUnit, wrapped with what would have been accepted.
func (q Quantity) Convert(v float64, u Unit) (float64, error) {
	if q == Number {
		return v, nil
	}
	for _, c := range measures[q].units {
		if c.unit != u {
			continue
		}
		if math.IsNaN(c.scale) {
			return 0, ErrNeedsCalibration
		}
		return v*c.scale + c.offset, nil
	}
	return 0, fmt.Errorf("%w: %q for %s: want %s", ErrUnit, u, q, quoteUnits(q))
}

// Possible reports whether v, in the first unit, can be a value of q at all.
func (q Quantity) Possible(v float64) bool {
	m, ok := measures[q]
	if !ok {
		return false
	}
	if q == Switch {
		return v == 0 || v == 1
	}
	return v >= m.lo && v <= m.hi
}

// Bounds is the range that Possible allows, in the first unit; of a switch only
// its ends are. An unknown quantity has none: lo is above hi.
func (q Quantity) Bounds() (lo, hi float64) {
	m, ok := measures[q]
	if !ok {
		return 1, 0
	}
	return m.lo, m.hi
}

func quoteUnits(q Quantity) string {
	var b strings.Builder
	for i, u := range q.Units() {
		if i > 0 {
			b.WriteString(", ")
		}
		if u == "" {
			b.WriteString("none")
			continue
		}
		b.WriteString(string(u))
	}
	return b.String()
}
