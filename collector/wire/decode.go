package wire

import (
	"bytes"
	"math"

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
}

// route finds whose message it is. A refusal it returns is about all of it.
func (c *call) route() *refusal {
	m := c.m
	if m.Refuse != "" {
		return refuse(m.Refuse, "%s", m.Why)
	}
	if why := checkTopic(m.Topic); why != nil {
		return why
	}
	if len(m.Payload) > MaxPayload {
		return refuse(aquarium.ReasonSize, "the payload has %d bytes: at most %d are taken: send it in parts", len(m.Payload), MaxPayload)
	}
	if own := c.r.own[m.Topic]; len(own) > 0 {
		return c.sensors(own)
	}
	p, why := c.r.place(m.Topic)
	switch {
	case why != nil:
		return why
	case p.tank != nil:
		return c.pack(p.tank.sensors)
	case p.health:
		return c.health(p)
	case p.gateway != "":
		return c.word(p)
	}
	c.d.Unclaimed = append(c.d.Unclaimed, aquarium.Unclaimed{Topic: m.Topic, Payload: m.Payload, Arrived: m.Arrived})
	return nil
}

// sensors decodes a message on the topic of one sensor, or of several that
// share a device's topic.
func (c *call) sensors(own []sensor) *refusal {
	named := map[aquarium.SensorID]sensor{}
	for _, s := range own {
		if s.Pointer == "" && s.TimePointer == "" {
			named[s.ID] = s
			continue
		}
		if why := c.pointed(&s); why != nil {
			c.d.refuse(c.m, why)
		}
	}
	switch len(named) {
	case 0:
		return nil
	case 1:
		for _, s := range named {
			return c.single(&s)
		}
	}
	return c.pack(named)
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
		return c.take(s, v, s.unit(), arrival())
	}
	rs, why := parsePack(c.m.Payload, c.now())
	if why != nil {
		return why
	}
	for i := range rs {
		c.record(s, &rs[i])
	}
	return nil
}

// pack decodes a pack of several sensors, each record found by its name.
func (c *call) pack(sensors map[aquarium.SensorID]sensor) *refusal {
	switch formOf(c.m.Payload) {
	case jsonOther:
		return refuse(aquarium.ReasonSyntax, "a JSON object: a tank's topic takes a SenML pack, which is an array")
	case bare:
		return refuse(aquarium.ReasonSyntax, "%q is no SenML pack: a tank's topic takes nothing else; publish a number on the sensor's own topic", cut(string(c.m.Payload)))
	}
	rs, why := parsePack(c.m.Payload, c.now())
	if why != nil {
		return why
	}
	for i := range rs {
		rec := &rs[i]
		if why := checkName(rec.Name); why != nil {
			c.d.refuse(c.m, why.about(rec.Raw))
			continue
		}
		s, ok := sensors[aquarium.SensorID(tail(rec.Name))]
		if !ok {
			c.d.refuse(c.m, refuse(aquarium.ReasonName, "no sensor here answers to the name %q", cut(rec.Name)).about(rec.Raw))
			continue
		}
		c.record(&s, rec)
	}
	return nil
}

// tail is what follows the last : / or _ of a name. Ids hold none of these, so
// that comparing it is the whole rule of suffixes.
func tail(name string) string {
	for i := len(name) - 1; i >= 0; i-- {
		if c := name[i]; c == ':' || c == '/' || c == '_' {
			return name[i+1:]
		}
	}
	return name
}

// record takes one SenML record for a sensor; what is wrong with it costs the
// record only.
func (c *call) record(s *sensor, rec *Record) {
	why, _ := rec.Err.(*refusal)
	if why == nil {
		why = s.kind(rec)
	}
	if why == nil {
		u := rec.Unit
		if u == "" {
			u = s.unit()
		}
		why = c.take(s, rec.Value, u, stampOf(rec))
	}
	if why != nil {
		c.d.refuse(c.m, why.about(rec.Raw))
	}
}

// pointed takes the value that a sensor's pointers find in other JSON.
func (c *call) pointed(s *sensor) *refusal {
	doc, why := document(bytes.TrimSpace(c.m.Payload))
	if why != nil {
		return why
	}
	found, why := find(doc, s.Pointer)
	if why != nil {
		return why
	}
	v, why := pointedNumber(found, s)
	if why != nil {
		return why
	}
	at := arrival()
	if s.TimePointer != "" {
		if found, why = find(doc, s.TimePointer); why != nil {
			return why
		}
		sec, why := pointedTime(found, s.TimeUnit)
		if why != nil {
			return why
		}
		at = stamp{sec: sec, absolute: true}
	}
	return c.take(s, v, s.unit(), at)
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
