package wire

import (
	"slices"
	"strings"

	"lentic/collector/aquarium"
)

// health is the sensor under which one item of a gateway's health is kept.
func health(s aquarium.SiteID, g aquarium.GatewayID, item string) aquarium.SensorKey {
	return aquarium.SensorKey{Site: s, Tank: aquarium.SiteWide, Sensor: aquarium.GatewaySensor(g, item)}
}

// word decodes `present` and `absent`. A stored one counts as well as a live
// one: it is not a measurement but the gateway's state, which holds until the
// next, and the broker itself keeps it true by the Will.
func (c *call) word(p place) *refusal {
	v := 0.0
	switch strings.TrimSpace(string(c.m.Payload)) {
	case "present":
		v = 1
		c.r.Seen(p.site, p.gateway)
	case "absent":
	default:
		return refuse(aquarium.ReasonSyntax, "%q: a gateway says present or absent", cut(string(c.m.Payload)))
	}
	c.d.Arrival = true
	c.d.Readings = append(c.d.Readings, aquarium.Reading{
		Sensor: health(p.site, p.gateway, aquarium.GatewayPresent),
		At:     c.m.Arrived,
		Value:  v,
	})
	return nil
}

// The items of a gateway's health, and the units each may carry; the first is
// what a value without one is in.
var items = map[string][]aquarium.Unit{
	aquarium.GatewayMains:    {"", "/"},
	aquarium.GatewayBattery:  {"%EL"},
	aquarium.GatewayBuffered: {"count"},
	aquarium.GatewaySignal:   {"dBm", ""},
}

// health decodes the pack of a gateway's own state.
func (c *call) health(p place) *refusal {
	if f := formOf(c.m.Payload); f != jsonPack && f != cborPack {
		return refuse(aquarium.ReasonSyntax, "%q is no SenML pack: a gateway's health is one, with mains, battery, buffered and signal", cut(string(c.m.Payload)))
	}
	rs, why := c.parse()
	if why != nil {
		return why
	}
	c.r.Seen(p.site, p.gateway)
	for i := range rs {
		if why := c.item(p, &rs[i]); why != nil {
			c.d.refuse(c.m, why.about(rs[i].raw))
		}
	}
	return nil
}

func (c *call) item(p place, rec *record) *refusal {
	if rec.err != nil {
		return rec.err
	}
	if why := checkName(rec.name); why != nil {
		return why
	}
	item := string(tail(rec.name))
	units, ok := items[item]
	if !ok {
		return refuse(aquarium.ReasonName, "a gateway's health has no %q: want mains, battery, buffered or signal", cut(string(rec.name)))
	}
	if why := kindOf(rec); why != nil {
		return why
	}
	if rec.kind == boolean && item != aquarium.GatewayMains {
		return refuse(aquarium.ReasonKind, "%s: vb is for mains: send v", item)
	}
	u := rec.unit
	if u == "" {
		u = units[0]
	}
	if !slices.Contains(units, u) {
		return refuse(aquarium.ReasonUnit, "%s: unit %q: want %s", item, cut(string(u)), unitList(units))
	}
	s := sensor{key: health(p.site, p.gateway, item),
		Sensor: aquarium.Sensor{ID: aquarium.SensorID(item), Quantity: aquarium.Number}}
	return c.take(&s, rec.value, u, stampOf(rec))
}
