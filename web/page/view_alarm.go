package page

import (
	"strings"
	"time"

	"lentic/collector/aquarium"
)

// Place is the tank and site, or lentic itself.
func (p *AlarmPage) Place() string { return item(&p.Alarm, p.Now).Place }

// Urgent reports whether the page is drawn heavy.
func (p *AlarmPage) Urgent() bool { return needOf(&p.Alarm) <= needToday }

// Word stands before the state.
func (p *AlarmPage) Word() string { return needWords[needOf(&p.Alarm)] }

// Standing is the alarm's state in words.
func (p *AlarmPage) Standing() string { return stateOf(&p.Alarm, p.Now) }

// Says is the alarm's sentence.
func (p *AlarmPage) Says() string { return unbroken(p.Text) }

// Why are the grounds and WhyNot what was ruled out, no number apart from its unit.
func (p *AlarmPage) Why() []string    { return unbrokenLines(p.Grounds) }
func (p *AlarmPage) WhyNot() []string { return unbrokenLines(p.Excluded) }

// AsOf says when the grounds were so; empty: not known.
func (p *AlarmPage) AsOf() string {
	if p.GroundsAt == 0 {
		return ""
	}
	return "As of " + clock(p.GroundsAt, p.Now, p.Zone()) + "."
}

// Known says that it is the last known; empty: it is seen to be so.
func (p *AlarmPage) Known() string { return known(&p.Alarm, p.Now) }

// TankLink leads to the tank's page; empty without one.
func (p *AlarmPage) TankLink() string {
	if p.Tank == nil || p.Site == nil {
		return ""
	}
	return "/tank/" + string(p.Site.ID) + "/" + string(p.Tank.ID)
}

// Access is how to get at the tank.
func (p *AlarmPage) Access() string { return access(p.Site) }

// Action is where the forms post to.
func (p *AlarmPage) Action() string {
	if p.Token != "" {
		return "/a/" + p.Token
	}
	return "/alarm/" + string(p.ID)
}

// CanAcknowledge reports whether there is something to acknowledge, and
// whether the reader may.
func (p *AlarmPage) CanAcknowledge() bool {
	return !p.Viewer && (p.State == aquarium.Unacknowledged || p.State == aquarium.ReturnedUnacknowledged)
}

// CanShelve is false for whoever came by a texted link.
func (p *AlarmPage) CanShelve() bool {
	return !p.Viewer && p.Token == "" && p.Active && (p.State == aquarium.Unacknowledged || p.State == aquarium.Acknowledged)
}

// Stretch says what time the evidence is of.
func (p *AlarmPage) Stretch() string {
	return "From " + clock(p.From, p.Now, p.Zone()) + " to " + clock(p.To, p.Now, p.Zone()) + "; the heavy upright line is where it began, " + clock(p.Since, p.Now, p.Zone()) + p.ended()
}

// ended says where the bar above the strips ends.
func (p *AlarmPage) ended() string {
	if p.Active || p.Returned == 0 {
		return "."
	}
	return ", the thin one where it was over, " + clock(p.Returned, p.Now, p.Zone()) + "."
}

// Figures are the latest values of what is drawn.
func (p *AlarmPage) Figures() []Figure {
	rs := roles(p.Tank)
	var fs []Figure
	for _, l := range p.Latest {
		fs = append(fs, figure(l, rs[l.Sensor.ID], p.Now, p.Zone()))
	}
	return fs
}

// Zone is the site's, else the frame's.
func (p *AlarmPage) Zone() *time.Location {
	if p.Site != nil {
		return zoneOf(p.Site)
	}
	return p.Frame.Zone
}

// Drawings are the evidence around the onset.
func (p *AlarmPage) Drawings() []Drawing {
	if p.Tank == nil || p.To <= p.From {
		return nil
	}
	c := canvas{from: p.From, to: p.To, now: p.Now, zone: p.Zone(), lights: p.Tank.Lights, h: 120, axis: true, latest: nil}
	c.happened = unlettered([]Alarm{p.Alarm})
	var ds []Drawing
	_, co2 := find(p.Evidence, CO2Estimate.ID)
	for _, st := range Plan(p.Tank, co2) {
		for _, l := range st.Lines {
			if _, ok := find(p.Evidence, l.Sensor); ok {
				ds = append(ds, c.draw(st, p.Evidence))
				break
			}
		}
	}
	return ds
}

// ToldLines say who was told, when, and what became of it.
func (p *AlarmPage) ToldLines() []string { return toldLines(p.Told, p.Now, p.Site) }

// HistoryLines say what happened to the alarm, oldest first.
func (p *AlarmPage) HistoryLines() []string {
	var ls []string
	for _, e := range p.History {
		at := clock(e.At, p.Now, p.Zone()) + ": "
		if kind, by, ok := strings.Cut(e.Note, " by "); ok && e.What == "told" {
			ls = append(ls, at+"told "+string(e.By)+" by "+by+" ("+kind+").")
			continue
		}
		s := at + strings.ReplaceAll(e.What, "-", " ")
		if e.By != "" {
			s += ", " + string(e.By)
		}
		ls = append(ls, s+"."+note(e.Note))
	}
	return ls
}
