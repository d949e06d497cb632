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

// TankLink leads to the tank's page; empty without one.
func (p *AlarmPage) TankLink() string {
	if p.Tank == nil || p.Site == nil {
		return ""
	}
	return "/tank/" + string(p.Site.ID) + "/" + string(p.Tank.ID)
}

// Access is how to get at the tank.
func (p *AlarmPage) Access() string {
	if p.Site == nil || p.Site.Access == "" {
		return ""
	}
	s := strings.TrimSuffix(p.Site.Access, ".") + "."
	if p.Site.HoursAs != "" {
		s += " People are there " + p.Site.HoursAs + "."
	}
	return s
}

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
	return "From " + clock(p.From, p.Now, p.Zone()) + " to " + clock(p.To, p.Now, p.Zone()) + "; the heavy upright line is where it began, " + clock(p.Since, p.Now, p.Zone()) + "."
}

// Zone is the site's, else the frame's.
func (p *AlarmPage) Zone() *time.Location {
	if p.Site != nil {
		return p.Site.Timezone
	}
	return p.Frame.Zone
}

// Drawings are the evidence around the onset.
func (p *AlarmPage) Drawings() []Drawing {
	if p.Tank == nil || p.To <= p.From {
		return nil
	}
	c := canvas{from: p.From, to: p.To, now: p.Now, zone: p.Zone(), lights: p.Tank.Lights, h: 120, axis: true, latest: nil}
	c.marks = marks([]Alarm{p.Alarm}, p.From, p.To, nil)
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
func (p *AlarmPage) ToldLines() []string {
	var ls []string
	for _, t := range p.Told {
		s := t.Name + " by " + string(t.By)
		switch {
		case t.Lost != "":
			s += ": given up, " + t.Lost
		case t.At != 0:
			s += ", " + clock(t.At, p.Now, p.Zone())
		default:
			s += ": due " + clock(t.Due, p.Now, p.Zone()) + ", not sent yet"
		}
		ls = append(ls, s+".")
	}
	return ls
}

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
