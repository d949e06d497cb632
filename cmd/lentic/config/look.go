package config

import (
	"fmt"
	"strings"

	"lentic/alert/detect"
	"lentic/alert/text"
	"lentic/collector/aquarium"
	"lentic/collector/water"
)

// look gathers the warnings of a file that has no mistakes.
func (p *parse) look() {
	whole := &node{line: 1, col: 1}
	if p.c.PublicURL == "" {
		p.warn(whole, "no public_url: texts carry no link, and an alarm can be acknowledged on the page only")
	}
	if p.c.MQTT == nil && p.c.Broker == nil {
		p.warn(whole, "neither listen.mqtt nor broker: no readings come in")
	}
	if len(p.c.CallOut[aquarium.High]) == 0 {
		p.warn(whole, "call_out has no step for high: nobody is told of a high alarm")
	}
	p.lookAtNames()
	for _, s := range p.c.Sites {
		p.lookAtTexts(s)
		for _, t := range s.Tanks {
			p.in(fmt.Sprintf("tank %q", t.ID), func() { p.lookAtTank(p.nodes[string(s.ID)+"/"+string(t.ID)], t) })
		}
	}
}

func (p *parse) lookAtTank(n *node, t aquarium.Tank) {
	if t.Lights == nil {
		p.warn(n, "no lights: lentic does not know day from night there")
	}
	if t.Limits.PH == nil && t.Limits.Temperature == nil && t.Limits.CO2 == 0 {
		p.warn(n, "no limits: no reading can be out of bounds")
	}
	if needs := detect.DriftNeeds(t); needs != "" {
		p.warn(n, "%s", needs)
	}
	p.lookAtCO2(n, t)
}

// near is the share of the bound from which on it is worth a word, within 30 %:
// the estimate is no better than the hand test behind it. Common practice, no
// source.
const near = 0.7

// lookAtCO2 compares what dosing aims at with the keeper's own bound.
func (p *parse) lookAtCO2(n *node, t aquarium.Tank) {
	e := t.Equipment
	if e.CO2 == nil || e.CO2.Target == 0 || t.AlkalinityDKH == 0 || t.Limits.CO2 == 0 {
		return
	}
	degrees := 25.0 // a planted tank's usual temperature; common practice, no source
	switch {
	case e.Heater != nil && e.Heater.Target > 0:
		degrees = e.Heater.Target
	case t.Limits.Temperature != nil:
		degrees = (t.Limits.Temperature.Lo + t.Limits.Temperature.Hi) / 2
	}
	c, err := water.CO2(water.PH(e.CO2.Target), water.DegreeKH(t.AlkalinityDKH), water.Celsius(degrees))
	if err != nil || float64(c) < near*t.Limits.CO2 {
		return
	}
	p.warn(n, "CO2: at its target of pH %s, with %s dKH and %s Cel, the water holds about %.0f mg/l, %.0f %% of the bound of %s mg/l: check the target, or the hand test",
		digits(e.CO2.Target), digits(t.AlkalinityDKH), digits(degrees), float64(c), 100*float64(c)/t.Limits.CO2, digits(t.Limits.CO2))
}

// tokenSeptets is the length of a link's token, which the desk draws.
const tokenSeptets = 26

// lookAtTexts says where a text of a tank, or of the whole site, would have to
// leave out more than parts of names and what only explains its number, which
// the link's page tells. Once for each: the worst.
func (p *parse) lookAtTexts(s aquarium.Site) {
	link := 0
	if p.c.PublicURL != "" {
		link = len(p.c.PublicURL) + len("/a/") + tokenSeptets
	}
	said := map[aquarium.TankID]bool{}
	for _, f := range text.Worst(s, link) {
		if said[f.Tank] || f.Dropped == "" || f.Dropped == "explanation" {
			continue
		}
		said[f.Tank] = true
		n, who := p.nodes[string(s.ID)], fmt.Sprintf("site %q", s.ID)
		if f.Tank != "" {
			n, who = p.nodes[string(s.ID)+"/"+string(f.Tank)], fmt.Sprintf("tank %q", f.Tank)
		}
		p.warn(n, "%s: the longest text, that of %s, would take %d characters of 160 and leaves out its %s: shorten public_url, or the name",
			who, f.Cause, f.Septets, f.Dropped)
	}
}

// lookAtNames says where a text could not tell one place from another.
func (p *parse) lookAtNames() {
	sites := map[string]aquarium.SiteID{}
	for _, s := range p.c.Sites {
		whole, _ := text.Place(s, "")
		if other, twice := sites[strings.ToLower(whole)]; twice {
			p.warn(p.nodes[string(s.ID)], "site %q: a text calls it %s, and site %q too: give them names that differ", s.ID, quote(whole), other)
		}
		sites[strings.ToLower(whole)] = s.ID
		tanks := map[string]aquarium.TankID{}
		for _, t := range s.Tanks {
			whole, _ := text.Place(s, t.ID)
			if other, twice := tanks[strings.ToLower(whole)]; twice {
				p.warn(p.nodes[string(s.ID)+"/"+string(t.ID)], "tank %q: a text calls it %s, and tank %q too: give them names that differ", t.ID, quote(whole), other)
			}
			tanks[strings.ToLower(whole)] = t.ID
		}
	}
}
