package page

import (
	"fmt"
	"math"

	"lentic/collector/aquarium"
)

// SheetView is one sheet as it is printed.
type SheetView struct {
	Tank, Site, Lead, Access string
	Bring                    []string
	Changes                  []Change
	Drawings                 []Drawing
	Alarms, Journal          []Note
	Link, Visit, Written     string
}

// Change is one sensor since the last visit.
type Change struct{ Name, Now, Range, Week string }

// Lead is the first sentence of the page of all tanks.
func (b *Before) Lead() string {
	if len(b.Sheets) == 0 && len(b.Offers) > 0 {
		return "Which tanks do you visit?"
	}
	if len(b.Sheets) == 0 {
		return "No tank is configured yet, so there is nothing to prepare."
	}
	return "What has changed at " + count(len(b.Sheets), "tank", "tanks") + ", and what to bring."
}

// OfferSite is one site's tanks to choose from.
type OfferSite struct {
	Name  string
	Tanks []OfferLine
}

// OfferLine is one tank to choose.
type OfferLine struct {
	Value, Tank, Need, Text string
	Chosen                  bool
}

// Choices are the tanks to choose from, by site; none where there is one only.
func (b *Before) Choices() []OfferSite {
	if len(b.Offers) < 2 {
		return nil
	}
	var out []OfferSite
	for _, o := range b.Offers {
		l := OfferLine{Value: string(o.Site.ID) + "/" + string(o.Tank.ID), Tank: o.Tank.Name, Chosen: o.Chosen}
		v := TankView{Site: o.Site, Tank: o.Tank, Alarms: o.Alarms, Heard: b.Now, Last: o.Last}
		l.Need, l.Text = needWords[needOfTank(&v, b.Now)], v.lastVisit(b.Now)
		if n := len(out); n == 0 || out[n-1].Name != o.Site.Name {
			out = append(out, OfferSite{Name: o.Site.Name})
		}
		site := &out[len(out)-1]
		site.Tanks = append(site.Tanks, l)
	}
	return out
}

// Asks reports whether tanks must be chosen before anything is shown.
func (b *Before) Asks() bool { return len(b.Sheets) == 0 && len(b.Offers) > 0 }

// Views are the sheets.
func (b *Before) Views() []SheetView {
	var vs []SheetView
	for i := range b.Sheets {
		vs = append(vs, b.view(&b.Sheets[i]))
	}
	return vs
}

func (b *Before) view(s *Sheet) SheetView {
	zone := s.Site.Timezone
	path := string(s.Site.ID) + "/" + string(s.Tank.ID)
	v := SheetView{Tank: s.Tank.Name, Site: s.Site.Name, Access: s.Site.Access, Link: "/tank/" + path, Visit: "/visit/" + path}
	switch {
	case s.Last == 0:
		v.Lead = "No visit has been noted yet; this sheet looks back " + lasting(b.Now.Sub(s.From)) + ". "
	default:
		v.Lead = "Last visit " + day(s.Last, b.Now, zone) + ", " + ago(s.Last, b.Now) + ". "
	}
	v.Lead += upper(count(len(s.Alarms), "alarm", "alarms")) + " since then."
	if b.Public != "" {
		v.Written = b.Public + v.Link
	}
	plan := b.planOf(s)
	c := canvas{from: s.From, to: b.Now, now: b.Now, zone: zone, h: 62, latest: s.Latest}
	c.happened = happenings(s.Alarms, s.Journal, plan, func(a *Alarm) string { return a.Text + " " + known(a, b.Now) + stateOf(a, b.Now) },
		func(e aquarium.Entry) string { return entry(e, b.Now, zone) })
	for i, st := range plan {
		v.Changes = append(v.Changes, b.changes(s, st)...)
		st.Switches = nil
		c.axis, c.strip = i == len(plan)-1, i
		v.Drawings = append(v.Drawings, c.draw(st, s.Sensors))
	}
	for _, h := range c.happened {
		n := Note{Letter: h.Letter, When: h.when(b.Now, zone), Text: h.text, Link: h.link, High: h.needs}
		if h.Kind == alarmKind {
			v.Alarms = append(v.Alarms, n)
		} else {
			v.Journal = append(v.Journal, n)
		}
	}
	v.Bring = b.bring(s)
	return v
}

func (b *Before) planOf(s *Sheet) []Strip {
	_, co2 := find(s.Sensors, CO2Estimate.ID)
	return Plan(s.Tank, co2)
}

func (b *Before) changes(s *Sheet, st Strip) []Change {
	var cs []Change
	for _, l := range st.Lines {
		c := Change{Name: upper(l.Name), Now: "never heard", Range: "no readings", Week: "not known"}
		if v, ok := value(s.Latest, l.Sensor); ok {
			c.Now = st.form.full(v.Value)
			if v.old(b.Now) {
				c.Now += " at " + clock(v.At, b.Now, s.Site.Timezone)
			}
		}
		if ser, ok := find(s.Sensors, l.Sensor); ok && len(ser.T) > 0 {
			lo, hi := math.Inf(1), math.Inf(-1)
			for i := range ser.T {
				lo, hi = math.Min(lo, ser.Min[i]), math.Max(hi, ser.Max[i])
			}
			c.Range = st.form.bare(lo) + " to " + st.form.full(hi)
			if w, days, ok := perWeek(ser, s.Site.Timezone); ok {
				c.Week = st.form.change(w)
			} else {
				c.Week = "needs 3 days, has " + fmt.Sprint(days)
			}
		}
		cs = append(cs, c)
	}
	return cs
}

// A hand test of KH is called old after this long. Common practice, no source.
const oldTest = 30

// bring names what to take along, each for a reason that stands in the data.
func (b *Before) bring(s *Sheet) []string {
	var out []string
	e := &s.Tank.Equipment
	for _, f := range e.Filters {
		ser, ok := find(s.Sensors, f.Flow)
		if !ok {
			continue
		}
		w, _, ok := perWeek(ser, s.Site.Timezone)
		now, known := value(s.Latest, f.Flow)
		// A twentieth of what it is rated for in a week is a decline that
		// shows by eye. Common practice, no source.
		if ok && known && f.RatedLH > 0 && w < -f.RatedLH/20 {
			fl := shapeOf(now.Sensor, false)
			out = append(out, fmt.Sprintf("What filter %s needs for cleaning: it gives %s, %s per week.", f.ID, fl.full(now.Value), fl.change(w)))
		}
	}
	if e.CO2 != nil {
		switch {
		case s.KHAt == 0:
			out = append(out, "A KH test: alkalinity has never been tested by hand here.")
		case b.Now.Sub(s.KHAt).Hours()/24 > oldTest:
			out = append(out, "A KH test: the last one is of "+day(s.KHAt, b.Now, s.Site.Timezone)+".")
		}
	}
	return append(out, b.forAlarms(s)...)
}

// kit is what the causes of alarms ask to be brought along.
var kit = map[aquarium.Cause]string{
	aquarium.FilterStalled:     "Spare impeller, shaft and seals for the filter that stalled.",
	aquarium.FilterClogging:    "Filter media and a hose brush for the filter that clogs.",
	aquarium.CO2Overshoot:      "A second pH meter, buffers and a KH test: CO2 overshot.",
	aquarium.CO2ValveStuck:     "A spare solenoid valve; what is under pressure is for those licensed for it.",
	aquarium.CO2NotDosing:      "A scale for the cylinder, and a full one in exchange.",
	aquarium.PHProbeDrift:      "pH buffers and a spare electrode.",
	aquarium.PHLow:             "A second pH meter and a KH test.",
	aquarium.PHHigh:            "A second pH meter and a KH test.",
	aquarium.TopOffRunaway:     "A spare top-off pump and float switch, towels.",
	aquarium.TopOffFailed:      "A spare top-off pump, and water to fill up by hand.",
	aquarium.TemperatureLow:    "A second thermometer and a spare heater.",
	aquarium.TemperatureHigh:   "A second thermometer.",
	aquarium.SensorSilent:      "A spare cable and supply for the sensor that fell silent.",
	aquarium.SiteSilent:        "A spare gateway and its supply.",
	aquarium.ReservoirLow:      "Water for the reservoir.",
	aquarium.GatewayClockWrong: "What is needed to set the gateway's clock.",
}

func (b *Before) forAlarms(s *Sheet) []string {
	var out []string
	said := map[string]bool{}
	for _, a := range worst(s.Alarms) {
		if k := kit[a.Cause]; k != "" && !said[k] {
			said[k] = true
			out = append(out, k)
		}
	}
	return out
}
