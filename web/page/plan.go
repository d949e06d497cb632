package page

import (
	"slices"

	"lentic/collector/aquarium"
)

// Strip is the plan of one strip: whose lines it holds, what it is held
// against, and the switches that act on it. The same plan draws the still
// strips here and the moving ones in the browser.
type Strip struct {
	Name     string   `json:"name"`
	Unit     string   `json:"unit"`
	Digits   int      `json:"digits"`
	Step     float64  `json:"step"`
	Sign     bool     `json:"sign"`
	MinSpan  float64  `json:"minSpan"`
	FromZero bool     `json:"fromZero"`
	Lines    []Line   `json:"lines"`
	Bounds   []Bound  `json:"bounds"`
	Switches []Switch `json:"switches"`
	form     shape
}

// Sensors lists those whose lines the strip holds, in their order.
func (s *Strip) Sensors() []aquarium.SensorID {
	var ids []aquarium.SensorID
	for _, l := range s.Lines {
		ids = append(ids, l.Sensor)
	}
	return ids
}

// Line is one sensor's line on a strip.
type Line struct {
	Sensor aquarium.SensorID `json:"sensor"`
	Name   string            `json:"name"`  // in a sentence
	Short  string            `json:"short"` // at the line's end
}

// Bound is a dashed rule: the keeper's own bound, or a machine's target.
type Bound struct {
	At    float64 `json:"at"`
	Label string  `json:"label"`
}

// Switch is a row of bars beneath a strip.
type Switch struct {
	Sensor aquarium.SensorID `json:"sensor"`
	Name   string            `json:"name"`
	On     string            `json:"on"`
	Off    string            `json:"off"`
}

// Plan lists the strips of a tank from top to bottom, and nil for a tank of
// which nothing can be drawn. co2 adds the estimate.
func Plan(t *aquarium.Tank, co2 bool) []Strip {
	p := planner{t: t, roles: roles(t), used: map[aquarium.SensorID]bool{}}
	e := &t.Equipment
	p.lines(aquarium.PH, e.CO2 != nil, func(s *Strip) {
		if e.CO2 != nil {
			p.bar(s, e.CO2.Valve)
			s.Bounds = append(s.Bounds, Bound{e.CO2.Target, "target " + s.form.bare(e.CO2.Target)})
		}
		s.bound(t.Limits.PH)
	})
	p.lines(aquarium.Temperature, e.Heater != nil, func(s *Strip) {
		if e.Heater != nil {
			p.bar(s, e.Heater.Switch)
		}
		if e.Cooling != nil {
			p.bar(s, e.Cooling.Switch)
		}
		s.bound(t.Limits.Temperature)
	})
	if e.TopOff != nil {
		p.lines(aquarium.Level, true, func(s *Strip) {
			p.bar(s, e.TopOff.Pump)
			if b := e.TopOff.BandMM; b > 0 {
				s.Bounds = append(s.Bounds, Bound{b, "band " + s.form.full(b)}, Bound{-b, s.form.full(-b)})
			}
		}, e.TopOff.Level)
	}
	p.flows()
	if co2 {
		s := p.strip(CO2Estimate)
		if t.Limits.CO2 > 0 {
			s.Bounds = append(s.Bounds, Bound{t.Limits.CO2, "your bound " + s.form.full(t.Limits.CO2)})
		}
		p.strips = append(p.strips, s)
	}
	p.stores()
	p.rest()
	return p.strips
}

// planner gives every sensor its place once.
type planner struct {
	t      *aquarium.Tank
	roles  map[aquarium.SensorID]role
	used   map[aquarium.SensorID]bool
	strips []Strip
}

func (p *planner) strip(s aquarium.Sensor) Strip {
	r := p.roles[s.ID]
	f := shapeOf(s, r.mark)
	p.used[s.ID] = true
	return Strip{Name: r.name, Unit: f.unit, Digits: f.digits, Step: f.step, Sign: f.sign,
		MinSpan: f.minSpan, FromZero: f.fromZero, form: f,
		Lines: []Line{{s.ID, r.name, r.short}}, Bounds: []Bound{}, Switches: []Switch{}}
}

// lines adds a strip for the first sensor of q that is meant: one of only,
// else, where a machine names one, that one, else the first there is.
func (p *planner) lines(q aquarium.Quantity, named bool, with func(*Strip), only ...aquarium.SensorID) {
	for _, s := range p.t.Sensors {
		if s.Quantity != q || p.used[s.ID] || len(only) > 0 && !slices.Contains(only, s.ID) {
			continue
		}
		if named && len(only) == 0 && !p.machine(q, s.ID) {
			continue
		}
		st := p.strip(s)
		with(&st)
		p.strips = append(p.strips, st)
		return
	}
}

// machine reports whether id is the sensor a machine of the tank goes by.
func (p *planner) machine(q aquarium.Quantity, id aquarium.SensorID) bool {
	e := &p.t.Equipment
	if q == aquarium.PH {
		return e.CO2.PH == id
	}
	return e.Heater.Temperature == id
}

// flows puts all filters on one strip: what one gives is read against the other.
func (p *planner) flows() {
	var st *Strip
	for _, f := range p.t.Equipment.Filters {
		s := p.t.Sensor(f.Flow)
		if s == nil || p.used[s.ID] {
			continue
		}
		one := p.strip(*s)
		if st == nil {
			one.Name = "flow"
			st = &one
			continue
		}
		st.Lines = append(st.Lines, one.Lines...)
	}
	if st == nil {
		return
	}
	if w := p.t.Equipment.Power; w != nil {
		p.bar(st, w.Mains)
	}
	p.strips = append(p.strips, *st)
}

func (p *planner) stores() {
	e := &p.t.Equipment
	if e.Reservoir != nil {
		p.lines(aquarium.Volume, true, func(s *Strip) { p.bar(s, e.Reservoir.Refill) }, e.Reservoir.Volume)
	}
	if e.Drain != nil {
		p.lines(aquarium.Level, true, func(s *Strip) {
			p.bar(s, e.Drain.Pump)
			if e.Drain.OverflowMM > 0 {
				s.Bounds = append(s.Bounds, Bound{e.Drain.OverflowMM, "rim " + s.form.full(e.Drain.OverflowMM)})
			}
		}, e.Drain.Level)
	}
}

// rest gives what is left a strip of its own, and a switch that acts on none
// of them a place under the last strip.
func (p *planner) rest() {
	for _, s := range p.t.Sensors {
		if !p.used[s.ID] && s.Quantity != aquarium.Switch {
			p.strips = append(p.strips, p.strip(s))
		}
	}
	if len(p.strips) == 0 {
		return
	}
	last := &p.strips[len(p.strips)-1]
	for _, s := range p.t.Sensors {
		if s.Quantity == aquarium.Switch {
			p.bar(last, s.ID)
		}
	}
}

func (p *planner) bar(s *Strip, id aquarium.SensorID) {
	if id == "" || p.used[id] || p.t.Sensor(id) == nil {
		return
	}
	r := p.roles[id]
	p.used[id] = true
	s.Switches = append(s.Switches, Switch{id, r.name, r.on, r.off})
}

// bound draws the keeper's own bounds.
func (s *Strip) bound(r *aquarium.Range) {
	if r == nil {
		return
	}
	s.Bounds = append(s.Bounds, Bound{r.Lo, "your bound " + s.form.full(r.Lo)}, Bound{r.Hi, "your bound " + s.form.full(r.Hi)})
}
