package page

import (
	"encoding/json"
	"slices"

	"lentic/collector/aquarium"
)

// Row says the tank as rounds do.
func (p *TankPage) Row() Row {
	v := &p.View
	row := Row{Tank: v.Tank.Name, Site: v.Site.Name, Heard: heard(v.Heard, p.Now, v.Site.Timezone)}
	v.say(&row, p.Now)
	return row
}

// Account tells the rest of the tank where the first sentence was about an
// alarm; empty otherwise.
func (p *TankPage) Account() string {
	n := needOfTank(&p.View, p.Now)
	if n >= silent {
		return ""
	}
	well, ill := account(&p.View, p.Now)
	var s string
	if len(ill) > 0 {
		s = "Seen now: " + list(ill) + ". "
	}
	if len(well) > 0 {
		s += "The rest: " + list(well) + "."
	}
	return s
}

// Note is a line of the margin: something that happened, with its letter where
// the strips mark it.
type Note struct {
	Letter, When, Text, Link string
	High                     bool
	Strip                    int // beside which strip it stands on a wide page
}

// Notes are alarms, visits and tests, newest first.
func (p *TankPage) Notes() []Note {
	var ns []Note
	for _, h := range p.happened() {
		ns = append(ns, Note{h.Letter, h.when(p.Now, p.View.Site.Timezone), h.text, h.link, h.needs, h.Strip})
	}
	return ns[:min(len(ns), 30)]
}

func (p *TankPage) happened() []Happening {
	zone := p.View.Site.Timezone
	return happenings(slices.Concat(p.View.Alarms, p.SiteAlarms, p.Recent), p.Journal, p.plan(),
		func(a *Alarm) string { return a.Text + " " + known(a, p.Now) + stateOf(a, p.Now) },
		func(e aquarium.Entry) string { return entry(e, p.Now, zone) })
}

// Drawings are the still strips of the last day.
func (p *TankPage) Drawings() []Drawing {
	v := &p.View
	var ds []Drawing
	plan, happened := p.plan(), p.happened()
	for i, st := range plan {
		c := v.canvas(p.Now, 92)
		c.axis, c.strip, c.happened, c.usual = i == len(plan)-1, i, happened, p.Usual
		ds = append(ds, c.draw(st, v.Strips))
	}
	return ds
}

// Uncounted lists what is drawn hollow on the strips, and why.
func (p *TankPage) Uncounted() []string {
	return p.View.canvas(p.Now, 0).uncounted(p.plan(), p.View.Strips)
}

// UsualLine says what the pale band is; empty where there is none.
func (p *TankPage) UsualLine() string { return usualLine(p.Usual) }

func (p *TankPage) plan() []Strip {
	_, co2 := value(p.View.Latest, CO2Estimate.ID)
	return Plan(p.View.Tank, co2)
}

// Figures are the latest values of every sensor.
func (p *TankPage) Figures() []Figure {
	rs := roles(p.View.Tank)
	var fs []Figure
	for _, s := range p.View.Tank.Sensors {
		l, ok := value(p.View.Latest, s.ID)
		if !ok {
			l = Latest{Sensor: s}
		}
		fs = append(fs, figure(l, rs[s.ID], p.Now, p.View.Site.Timezone))
	}
	if l, ok := value(p.View.Latest, CO2Estimate.ID); ok {
		fs = append(fs, figure(l, rs[l.Sensor.ID], p.Now, p.View.Site.Timezone))
	}
	return fs
}

// Chemistry says what the estimate of CO2 rests on.
func (p *TankPage) Chemistry() string {
	if p.KH <= 0 {
		return "Alkalinity is not known here, so CO2 is not estimated: note a hand test of KH."
	}
	f := shape{unit: "dKH", digits: 1}
	from := "from the configuration"
	if p.KHAt != 0 {
		from = "tested by hand " + clock(p.KHAt, p.Now, p.View.Site.Timezone)
	}
	s := "CO2 is estimated from pH, temperature and an alkalinity of " + f.full(p.KH) + ", " + from + "."
	if p.View.Tank.Substrate == aquarium.Active {
		s += " The active substrate makes it a rough one: it is shown, never judged alone."
	}
	return s
}

// Data is the plan of the page for its script, as JSON.
func (p *TankPage) Data() (string, error) {
	data := struct {
		Site   aquarium.SiteID                 `json:"site"`
		Tank   aquarium.TankID                 `json:"tank"`
		Zone   string                          `json:"zone"`
		Now    aquarium.Instant                `json:"now"`
		Speed  float64                         `json:"speed"`
		Lights *[2]int                         `json:"lights"`
		Strips []Strip                         `json:"strips"`
		Marks  []Happening                     `json:"marks"`
		Usual  map[aquarium.SensorID]usualData `json:"usual"`
		Words  map[string]string               `json:"words"` // what a quality means
	}{Words: map[string]string{}, Site: p.View.Site.ID, Tank: p.View.Tank.ID, Zone: "UTC", Now: p.Now, Speed: max(p.Speed, 1), Strips: p.plan(), Marks: []Happening{}, Usual: map[aquarium.SensorID]usualData{}}
	if z := p.View.Site.Timezone; z != nil {
		data.Zone = z.String()
	}
	if l := p.View.Tank.Lights; l != nil && l.From != l.To {
		data.Lights = &[2]int{int(l.From), int(l.To)}
	}
	for _, h := range p.happened() {
		if h.Kind != "" {
			data.Marks = append(data.Marks, h)
		}
	}
	for id, u := range p.Usual {
		data.Usual[id] = u.data()
	}
	for q, words := range takenFor {
		data.Words[q.String()] = words
	}
	b, err := json.Marshal(data)
	return string(b), err
}
