package config

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"lentic/collector/aquarium"
)

// sensors reads the tank's sensors in the order of the file.
func (r *tankReader) sensors(n *node) {
	if n.kind != mapping {
		r.bad(n, "%s: want ids and sensors, as ph: { quantity: ph }", n.describe())
		return
	}
	path := r.path
	r.path = path[:len(path)-1] // "sensors" says nothing beside the sensor's name
	defer func() { r.path = path }()
	for _, e := range n.entries {
		place := e.place()
		if err := aquarium.CheckID(e.key); err != nil {
			r.bad(place, "sensor: %v", err)
		}
		if r.t.Sensor(aquarium.SensorID(e.key)) != nil {
			r.bad(place, "sensor %s is given twice: want each once", short(e.key))
			continue
		}
		r.in("sensor "+short(e.key), func() {
			s := r.sensor(e.value)
			s.ID = aquarium.SensorID(e.key)
			r.nodes[aquarium.SensorKey{Site: r.site, Tank: r.t.ID, Sensor: s.ID}.String()] = cmp.Or(e.value.get("topic"), place)
			r.t.Sensors = append(r.t.Sensors, s)
		})
	}
	if len(n.entries) == 0 {
		r.bad(n, "no sensor is given: want at least one")
	}
}

func (r *tankReader) sensor(n *node) (s aquarium.Sensor) {
	quantities := make([]string, 0, 16)
	for _, q := range aquarium.Quantities() {
		quantities = append(quantities, string(q))
	}
	r.object(n,
		must("quantity", func(n *node) { s.Quantity = aquarium.Quantity(r.oneOf(n, quantities...)) }),
		may("topic", func(n *node) { s.Topic = r.topic(n) }),
		may("pointer", func(n *node) { s.Pointer = r.pointer(n) }),
		may("time_pointer", func(n *node) { s.TimePointer = r.pointer(n) }),
		may("time_unit", func(n *node) {
			s.TimeUnit = aquarium.TimeUnit(r.oneOf(n, string(aquarium.Seconds), string(aquarium.Milliseconds), string(aquarium.RFC3339)))
		}),
		may("scale", func(n *node) {
			if s.Scale = r.number(n, -1e9, 1e9, "a factor"); s.Scale == 0 && decimal.MatchString(n.text) {
				r.bad(n, "a scale of 0 would make every reading the same: want another")
			}
		}),
		may("offset", func(n *node) { s.Offset = r.number(n, -1e9, 1e9, "a number") }),
		may("counter", func(n *node) { s.Counter = r.boolean(n) }),
		may("per_unit", func(n *node) { s.PerUnit = r.number(n, 1e-6, 1e9, "counts per unit") }),
		may("litres_per_mm", func(n *node) { s.LitresPerMM = r.number(n, 0.001, 1000, "litres") }),
		may("unit", func(n *node) { s.Unit = r.unit(n, &s) }),
		may("every", func(n *node) { s.Every = r.duration(n, time.Second, 24*time.Hour) }),
		may("on_change", func(n *node) { s.OnChange = r.boolean(n) }),
		may("refresh", func(n *node) { s.Refresh = r.duration(n, 10*time.Second, 7*24*time.Hour) }),
	)
	if n.kind == mapping {
		r.sensorWhole(n, &s)
	}
	return s
}

// taken lists the units a sensor may send: a volume that is made of a level is
// sent as a level, and a counter of a flow may count a volume.
func taken(s *aquarium.Sensor) []aquarium.Unit {
	us := s.Quantity.Units()
	switch {
	case s.LitresPerMM != 0:
		us = append(aquarium.Level.Units(), aquarium.Volume.Units()...)
	case s.Counter && s.Quantity == aquarium.Flow:
		us = append(us, aquarium.Volume.Units()...)
	}
	return us
}

// unit is one that the sensor may send.
func (r *tankReader) unit(n *node, sensor *aquarium.Sensor) aquarium.Unit {
	q := sensor.Quantity
	s, ok := r.text(n)
	u := aquarium.Unit(s)
	if !ok || q == "" {
		return u // the quantity's own mistake is enough
	}
	if q == aquarium.Number {
		if len(s) > 32 || strings.ContainsFunc(s, func(c rune) bool { return c < ' ' }) {
			r.bad(n, "unit has to be one line of at most 32 characters")
		}
		return u
	}
	us := taken(sensor)
	switch {
	case slices.Contains(us, u):
	case strings.Contains(s, "gal"):
		r.bad(n, "unit %s is ambiguous: US gallons are [gal_us], imperial ones [gal_br]%s", short(s), wanted(us))
	default:
		r.bad(n, "unit %s is not taken for %s%s", short(s), q, wanted(us))
	}
	return u
}

func wanted(us []aquarium.Unit) string {
	words := make([]string, len(us))
	for i, u := range us {
		words[i] = string(u)
		if u == "" {
			words[i] = "none"
		}
	}
	return ": want " + strings.Join(words, ", ")
}

// sensorWhole checks keys that need each other.
func (r *tankReader) sensorWhole(n *node, s *aquarium.Sensor) {
	if t := n.get("time_pointer"); t != nil && n.get("pointer") == nil {
		r.bad(t, "time_pointer without pointer: want the value's place too")
	}
	if t := n.get("time_unit"); t != nil && n.get("time_pointer") == nil {
		r.bad(t, "time_unit without time_pointer: want the time's place too")
	}
	if t := n.get("time_pointer"); t != nil && n.get("time_unit") == nil {
		s.TimeUnit = aquarium.Seconds
		r.warn(t, "time_pointer without time_unit: times are read in seconds")
	}
	if c := n.get("counter"); s.Counter {
		if n.get("per_unit") == nil && !(s.Quantity == aquarium.Flow && aquarium.Volume.Accepts(s.Unit)) {
			r.bad(c, "counter without per_unit: want the counts per litre or other unit, or a unit of volume for a running total")
		}
		if s.Quantity != "" && s.Quantity != aquarium.Flow && s.Quantity != aquarium.Power && s.Quantity != aquarium.Number {
			r.bad(c, "a counter gives a rate, which %s is not: want quantity flow, power or number", s.Quantity)
		}
	} else if u := n.get("per_unit"); u != nil {
		r.bad(u, "per_unit without counter: want counter: true with it")
	}
	if l := n.get("litres_per_mm"); l != nil {
		switch s.Quantity {
		case "", aquarium.Volume:
		case aquarium.Level:
			s.Quantity = aquarium.Volume // a level used as a volume is one
		default:
			r.bad(l, "litres_per_mm makes a volume of a level, which %s is neither: want quantity volume", s.Quantity)
		}
	}
	if f := n.get("refresh"); f != nil && !s.OnChange {
		r.bad(f, "refresh without on_change: want on_change: true with it, or every")
	}
	if e := n.get("every"); e != nil && s.OnChange {
		r.bad(e, "every and on_change are both given: want one of them")
	}
	if s.OnChange && n.get("refresh") == nil {
		r.warn(n, "on_change without refresh: that it has gone silent cannot be told")
	}
	if n.get("unit") == nil && s.Quantity != "" && !s.Counter {
		s.Unit = taken(s)[0]
	}
	if underived(*s) {
		r.warn(n, "%s: what it sends until then is kept as received, and neither shown, judged nor exported", noPH)
	}
}
