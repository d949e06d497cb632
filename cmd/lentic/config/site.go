package config

import (
	"slices"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/wire"
)

// siteIndex is what is known of a site while reading.
type siteIndex struct{ tanks map[string]bool }

func (p *parse) siteList(n *node) {
	seen := map[string]bool{}
	p.each(n, "sites", func(_ int, n *node) {
		p.in(label("site", n), func() { p.c.Sites = append(p.c.Sites, p.site(n, seen)) })
	})
	if n.kind == list && len(n.items) == 0 {
		p.bad(n, "no site is given: want at least one")
	}
}

func (p *parse) site(n *node, seen map[string]bool) (s aquarium.Site) {
	s.Timezone = time.UTC
	p.object(n,
		must("id", func(n *node) {
			s.ID = aquarium.SiteID(p.fresh(n, seen))
			p.sites[string(s.ID)] = &siteIndex{tanks: map[string]bool{}}
		}),
		may("name", func(n *node) { s.Name = p.line(n) }),
		must("timezone", func(n *node) {
			if z := p.zone(n); z != nil {
				s.Timezone = z
			}
		}),
		may("hours", func(n *node) { p.hours(n, &s) }),
		may("access", func(n *node) { s.Access = p.line(n) }),
		may("contacts", func(n *node) { p.contactList(n, &s) }),
		must("tanks", func(n *node) { p.tankList(n, &s) }),
	)
	if s.Name == "" {
		s.Name = string(s.ID)
	}
	p.nodes[string(s.ID)] = n
	return s
}

func (p *parse) hours(n *node, s *aquarium.Site) {
	t, ok := p.text(n)
	if !ok {
		return
	}
	w, err := parseWeek(t)
	if err != nil {
		p.bad(n, "%v", err)
		return
	}
	s.Hours, s.HoursAs = w, t
}

func (p *parse) tankList(n *node, s *aquarium.Site) {
	seen := map[string]bool{}
	// A tank is named without its site, whose place in the file is plain.
	path := p.path
	p.each(n, "tanks", func(_ int, n *node) {
		p.path = []string{label("tank", n)}
		s.Tanks = append(s.Tanks, p.tank(n, s, seen))
		p.path = path
	})
}

// tankReader reads one tank; its equipment refers to its sensors.
type tankReader struct {
	*parse
	site aquarium.SiteID
	t    aquarium.Tank
}

func (p *parse) tank(n *node, s *aquarium.Site, seen map[string]bool) aquarium.Tank {
	r := &tankReader{parse: p, site: s.ID}
	r.t.Substrate = aquarium.Inert
	p.object(n,
		must("id", func(n *node) { r.t.ID = aquarium.TankID(p.fresh(n, seen)) }),
		may("name", func(n *node) { r.t.Name = p.line(n) }),
		may("size", r.size),
		may("started", func(n *node) { r.t.Started = p.date(n, s.Timezone) }),
		may("substrate", func(n *node) {
			r.t.Substrate = aquarium.Substrate(p.oneOf(n, string(aquarium.Inert), string(aquarium.Active)))
		}),
		// From none to harder than any tap: common practice, no source.
		may("alkalinity_dkh", func(n *node) { r.t.AlkalinityDKH = p.number(n, 0.1, 40, "dKH") }),
		may("lights", r.lights),
		may("limits", r.limits),
		must("sensors", r.sensors),
		may("equipment", r.equipment),
		may("priorities", r.priorities),
	)
	if r.t.Name == "" {
		r.t.Name = string(r.t.ID)
	}
	p.nodes[string(s.ID)+"/"+string(r.t.ID)] = n
	return r.t
}

func (r *tankReader) size(n *node) {
	s := &r.t.Size
	cm := func(into *float64) func(*node) {
		return func(n *node) { *into = r.number(n, 5, 1000, "cm") }
	}
	r.object(n,
		must("length_cm", cm(&s.LengthCM)),
		must("width_cm", cm(&s.WidthCM)),
		must("fill_cm", cm(&s.FillCM)),
		may("displaced_l", func(n *node) { s.DisplacedL = r.number(n, 0, 100000, "litres") }),
	)
	if g := s.GrossL(); g > 0 && s.DisplacedL >= g {
		r.bad(n.get("displaced_l"), "%s l are displaced in a tank that holds %.0f l: want less", digits(s.DisplacedL), g)
	}
}

func (r *tankReader) lights(n *node) {
	var s aquarium.Span
	ok := r.object(n,
		must("on", func(n *node) { s.From = r.clock(n) }),
		must("off", func(n *node) { s.To = r.clock(n) }),
	)
	if !ok {
		return
	}
	if n.get("on") != nil && n.get("off") != nil && s.From == s.To {
		r.bad(n, "lights go on and off at the same time: want two times of day")
	}
	r.t.Lights = &s
}

func (r *tankReader) limits(n *node) {
	r.object(n,
		may("ph", func(n *node) { r.t.Limits.PH = r.bounds(n, 3, 11, "pH") }),
		may("temperature", func(n *node) { r.t.Limits.Temperature = r.bounds(n, 0, 45, "Cel") }),
		may("co2_mg_l", func(n *node) { r.t.Limits.CO2 = r.number(n, 1, 500, "mg/l") }),
	)
}

// bounds is a pair, the lower one first.
func (r *tankReader) bounds(n *node, lo, hi float64, unit string) *aquarium.Range {
	if n.kind != list || len(n.items) != 2 {
		r.bad(n, "%s: want two bounds, the lower one first, as [%s, %s]", n.describe(), digits(lo), digits(hi))
		return nil
	}
	before := len(r.mistakes)
	b := aquarium.Range{Lo: r.number(n.items[0], lo, hi, unit), Hi: r.number(n.items[1], lo, hi, unit)}
	if len(r.mistakes) > before {
		return nil
	}
	if b.Lo >= b.Hi {
		r.bad(n, "bounds %s and %s: want the lower one first", digits(b.Lo), digits(b.Hi))
		return nil
	}
	return &b
}

func (r *tankReader) priorities(n *node) {
	if n.kind != mapping {
		r.bad(n, "%s: want causes and priorities, as { ph-high: high }", n.describe())
		return
	}
	var causes []string
	for _, c := range aquarium.Causes() {
		if ofTank(c) {
			causes = append(causes, string(c))
		}
	}
	r.t.Priorities = map[aquarium.Cause]aquarium.Priority{}
	for _, e := range n.entries {
		place := e.place()
		_, twice := r.t.Priorities[aquarium.Cause(e.key)]
		switch {
		case twice:
			r.bad(place, "cause %s is given twice", short(e.key))
		case slices.Contains(causes, e.key):
			word := r.oneOf(e.value, "low", "medium", "high")
			r.t.Priorities[aquarium.Cause(e.key)] = aquarium.PriorityOf(word)
		case aquarium.Cause(e.key).Known():
			r.bad(place, "cause %s is not a tank's: its priority is fixed", short(e.key))
		default:
			r.bad(place, "cause %s is unknown%s", short(e.key), meant(e.key, causes))
		}
	}
}

// ofTank reports whether a cause can be seen at one tank, and so be given a
// priority there.
func ofTank(c aquarium.Cause) bool {
	return !c.Own() && c != aquarium.SiteSilent && c != aquarium.GatewayClockWrong
}

// topics checks that no two sensors claim the same readings.
func (p *parse) topics() {
	type claim struct{ topic, pointer string }
	taken := map[claim]aquarium.SensorKey{}
	for pass := range 2 { // the topics that come by name first
		for _, s := range p.c.Sites {
			for _, t := range s.Tanks {
				for _, n := range t.Sensors {
					if (n.Topic != "") != (pass == 1) {
						continue
					}
					k := aquarium.SensorKey{Site: s.ID, Tank: t.ID, Sensor: n.ID}
					c := claim{n.Topic, n.Pointer}
					if n.Topic == "" {
						c = claim{p.c.Prefix + "/" + k.String(), n.Pointer}
					}
					if other, ok := taken[c]; ok && n.Topic != "" {
						p.bad(p.nodes[k.String()], "topic %s is already that of sensor %s: want another, or another pointer into it", short(n.Topic), other)
						continue
					}
					taken[c] = k
				}
			}
		}
	}
}

func (r *tankReader) topic(n *node) string {
	s, ok := r.text(n)
	if !ok {
		return ""
	}
	if err := wire.CheckTopic(s); err != nil {
		r.bad(n, "%v", err)
		return ""
	}
	return s
}
