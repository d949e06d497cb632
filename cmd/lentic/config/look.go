package config

import (
	"fmt"

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
	p.lookAtCO2(n, t)
}

// near is the share of the bound from which on it is worth a word: the estimate
// is no better than the hand test behind it. Common practice, no source.
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
	p.warn(n, "CO2: at its target of pH %s, with %s dKH and %s Cel, the water holds about %.0f mg/l; the bound is %s mg/l: check the target, or the hand test",
		digits(e.CO2.Target), digits(t.AlkalinityDKH), digits(degrees), float64(c), digits(t.Limits.CO2))
}

// tokenSeptets is the length of a link's token, which the desk draws.
const tokenSeptets = 26

// lookAtTexts says where a text could not show a name whole.
func (p *parse) lookAtTexts(s aquarium.Site) {
	link := 0
	if p.c.PublicURL != "" {
		link = len(p.c.PublicURL) + len("/a/") + tokenSeptets
	}
	said := map[aquarium.TankID]bool{}
	for _, f := range text.Worst(s, link) {
		if said[f.Tank] || f.Cut == 0 && f.Dropped == "" {
			continue
		}
		said[f.Tank] = true
		n, who := p.nodes[string(s.ID)], fmt.Sprintf("site %q", s.ID)
		if f.Tank != "" {
			n, who = p.nodes[string(s.ID)+"/"+string(f.Tank)], fmt.Sprintf("tank %q", f.Tank)
		}
		p.warn(n, "%s: the longest text, that of %s, has %d characters of 160: %s", who, f.Cause, f.Septets, loses(f))
	}
}

func loses(f text.Finding) string {
	cut := fmt.Sprintf("the names lose %d of theirs", f.Cut)
	switch {
	case f.Dropped == "":
		return cut
	case f.Cut == 0:
		return "the " + f.Dropped + " is left out"
	}
	return cut + ", and the " + f.Dropped + " is left out"
}
