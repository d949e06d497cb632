package wire

import (
	"bytes"
	"math"
	"slices"

	"lentic/collector/aquarium"
)

// Decode says what is in a message. It may be called by many at once.
func (r *Registry) Decode(m Message) Decoded {
	c := call{r: r, m: &m}
	if why := c.route(); why != nil {
		c.d.refuse(&m, why)
	}
	return c.d
}

// call is the decoding of one message.
type call struct {
	r      *Registry
	m      *Message
	d      Decoded
	clocks bool // the gateway's clock has been noted once

	read  bool // the document has been
	doc   any  // other JSON, for pointers
	noDoc *refusal
}

// route finds whose message it is. A refusal it returns is about all of it.
func (c *call) route() *refusal {
	m := c.m
	if m.Refuse != "" {
		return refuse(m.Refuse, "%s", m.Why)
	}
	if len(m.Payload) > MaxPayload {
		return refuse(aquarium.ReasonSize, "the payload has %d bytes: at most %d are taken: send it in parts", len(m.Payload), MaxPayload)
	}
	if own := c.r.own[m.Topic]; len(own) > 0 {
		c.device(own)
		return nil
	}
	p, why := c.r.place(m.Topic)
	if p.tank != nil {
		return c.pack(p.tank)
	}
	if bad := checkTopic(m.Topic); bad != nil { // what is ours is well spelt
		return bad
	}
	switch {
	case why != nil:
		return why
	case p.health:
		return c.health(p)
	case p.gateway != "":
		return c.word(p)
	}
	c.d.Unclaimed = append(c.d.Unclaimed, aquarium.Unclaimed{Topic: m.Topic, Payload: m.Payload, Arrived: m.Arrived})
	return nil
}

// device decodes a message on the topic of one sensor, or of several whose
// pointers find their values in it.
func (c *call) device(own []*sensor) {
	for _, s := range own {
		decode := c.single
		if s.Pointer != "" || s.TimePointer != "" {
			decode = c.pointed
		}
		if why := decode(s); why != nil {
			c.d.refuse(c.m, why)
		}
	}
}

// single decodes a bare number or a pack of one sensor, whose record names are
// not looked at: the topic has named it already.
func (c *call) single(s *sensor) *refusal {
	switch formOf(c.m.Payload) {
	case jsonOther:
		return refuse(aquarium.ReasonSyntax, "a JSON object: send a number or a SenML pack, or give the sensor a pointer")
	case bare:
		v, why := number(string(c.m.Payload))
		if why != nil {
			return why
		}
		return c.take(s, v, s.unit, arrival())
	}
	rs, why := c.parse()
	for i := range rs {
		c.record(s, &rs[i])
	}
	return why
}

// parse takes the message's pack apart, and makes room for its readings.
func (c *call) parse() ([]record, *refusal) {
	rs, why := parsePack(c.m.Payload)
	c.d.Readings = slices.Grow(c.d.Readings, len(rs))
	return rs, why
}

// pack decodes a pack of several sensors, each record found by its name.
func (c *call) pack(sensors tank) *refusal {
	switch formOf(c.m.Payload) {
	case jsonOther:
		return refuse(aquarium.ReasonSyntax, "a JSON object: a tank's topic takes a SenML pack, which is an array")
	case bare:
		return refuse(aquarium.ReasonSyntax, "%q is no SenML pack: a tank's topic takes nothing else; publish a number on the sensor's own topic", cut(string(c.m.Payload)))
	}
	rs, why := c.parse()
	for i := range rs {
		rec := &rs[i]
		s, why := named(sensors, rec)
		if why != nil {
			c.d.refuse(c.m, why.about(rec.raw))
			continue
		}
		c.record(s, rec)
	}
	return why
}

// named is the sensor that a record of a tank's pack is of.
func named(sensors tank, rec *record) (*sensor, *refusal) {
	if rec.err != nil {
		return nil, rec.err
	}
	if why := checkName(rec.name); why != nil {
		return nil, why
	}
	s, ok := sensors[aquarium.SensorID(tail(rec.name))]
	if !ok {
		return nil, refuse(aquarium.ReasonName, "no sensor here answers to the name %q", cut(string(rec.name)))
	}
	return s, nil
}

// record takes one SenML record for a sensor; what is wrong with it costs the
// record only.
func (c *call) record(s *sensor, rec *record) {
	why := rec.err
	if why == nil {
		why = s.kind(rec)
	}
	if why == nil {
		u := rec.unit
		if u == "" {
			u = s.unit
		}
		why = c.take(s, rec.value, u, stampOf(rec))
	}
	if why != nil {
		c.d.refuse(c.m, why.about(rec.raw))
	}
}

// pointed takes the value that a sensor's pointers find in other JSON.
func (c *call) pointed(s *sensor) *refusal {
	if !c.read {
		c.read = true
		c.doc, c.noDoc = document(bytes.TrimSpace(c.m.Payload))
	}
	if c.noDoc != nil {
		return c.noDoc
	}
	found, why := find(c.doc, s.Pointer)
	if why != nil {
		return why
	}
	v, why := pointedNumber(found, s)
	if why != nil {
		return why
	}
	at := arrival()
	if s.TimePointer != "" {
		if found, why = find(c.doc, s.TimePointer); why != nil {
			return why
		}
		sec, why := pointedTime(found, s.TimeUnit)
		if why != nil {
			return why
		}
		at = stamp{sec: sec, absolute: true}
	}
	return c.take(s, v, s.unit, at)
}

// take checks value, unit and time, and keeps the reading.
func (c *call) take(s *sensor, v float64, u aquarium.Unit, at stamp) *refusal {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return refuse(aquarium.ReasonValue, "sensor %q: %g is no value: send nothing when there is none", s.ID, v)
	}
	if why := s.accepts(u); why != nil {
		return why
	}
	return c.keep(aquarium.Reading{Sensor: s.key, Value: v, Unit: u}, at)
}

// now is the time of arrival in Unix seconds.
func (c *call) now() float64 { return float64(c.m.Arrived) / 1000 }
