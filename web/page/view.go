package page

import (
	"fmt"
	"strings"
	"time"

	"lentic/collector/aquarium"
)

// Item is an alarm as a page lists it.
type Item struct {
	Need  string // the word before the sentence; empty: none is needed
	High  bool   // drawn heavy
	Text  string
	Known string // that it is the last known; empty: it is seen to be so
	State string // since when, and what has become of it
	Link  string
	Place string
}

func item(a *Alarm, now aquarium.Instant) Item {
	n := needOf(a)
	it := Item{Need: needWords[n], High: n <= needToday, Text: a.Text, Known: known(a, now), State: stateOf(a, now), Link: "/alarm/" + string(a.ID)}
	it.Place = a.TankName
	if a.SiteName != "" && it.Place != "" {
		it.Place += ", "
	}
	it.Place += a.SiteName
	if it.Place == "" {
		it.Place = "lentic itself"
	}
	return it
}

func items(as []Alarm, now aquarium.Instant) []Item {
	var its []Item
	for _, a := range worst(as) {
		its = append(its, item(&a, now))
	}
	return its
}

// known says that an alarm stands as it was last seen, its readings having
// stopped: silence is not normal, and it is no news either. It ends in a space.
func known(a *Alarm, now aquarium.Instant) string {
	switch {
	case !a.Evidence.LastKnown || !a.Active:
		return ""
	case a.Heard == 0:
		return "Last known: its readings have stopped, and nobody can see whether it is still so. "
	}
	return "Last known, of " + clock(a.Heard, now, a.Zone) + ", " + ago(a.Heard, now) + ": its readings have stopped, and nobody can see whether it is still so. "
}

// stateOf tells the state of an alarm in words.
func stateOf(a *Alarm, now aquarium.Instant) string {
	since := "Since " + clock(a.Since, now, a.Zone)
	lasted := since + ", " + lasting(now.Sub(a.Since))
	ended := since + ", for " + lasting(a.Returned.Sub(a.Since))
	switch {
	case needOf(a) != young:
	case a.Active:
		return lasted + "; " + shownOnly
	default:
		return ended + "; back to normal by itself; " + shownOnly
	}
	switch a.State {
	case aquarium.Unacknowledged:
		return lasted + "; nobody has acknowledged it."
	case aquarium.Acknowledged:
		by := ""
		if a.By != "" {
			by = " by " + a.By
		}
		return lasted + "; acknowledged" + by + " at " + clock(a.AcknowledgedAt, now, a.Zone) + "." + note(a.Note)
	case aquarium.ReturnedUnacknowledged:
		return ended + "; back to normal by itself, and nobody has acknowledged it."
	case aquarium.Shelved:
		return lasted + "; shelved until " + clock(a.ShelvedUntil, now, a.Zone) + "." + note(a.ShelvedFor)
	case aquarium.StateOutOfService:
		return lasted + "; out of service during the visit."
	case aquarium.StateSuppressed:
		return lasted + "; explained by " + strings.ReplaceAll(string(a.Parent), "-", " ") + "."
	}
	if a.Record {
		return ended + "; found afterwards in late readings, nobody was told."
	}
	return ended + "; over."
}

// shownOnly is said of an alarm that nobody is told of.
var shownOnly = fmt.Sprintf("shown here only, and nobody was told: the tank is in its first %d days.", int(aquarium.RunningIn/(24*time.Hour)))

func note(s string) string {
	if s == "" {
		return ""
	}
	return " “" + s + "”"
}

// Row is one tank on rounds.
type Row struct {
	Tank, Site, Link string
	Need             string
	High             bool
	Sentence         string
	Known            string // that the sentence is the last known; empty: it is seen to be so
	State            string
	More             string   // "and 2 more"
	Notes            []string // for the margin
	Figures          []Figure
	Strip            *Drawing // nil: nothing to draw
	Heard            string
}

// Rows are the tanks in the order of the page.
func (r *Rounds) Rows() []Row {
	var rows []Row
	for _, v := range ordered(r.Tanks, r.Now) {
		row := Row{Tank: v.Tank.Name, Site: v.Site.Name, Link: v.link("/tank/"), Figures: four(&v, r.Now)}
		v.say(&row, r.Now)
		row.Notes = v.notes(r.Now)
		if d, ok := v.small(r.Now); ok {
			row.Strip = &d
		}
		rows = append(rows, row)
	}
	return rows
}

// Lead is the first sentence of rounds.
func (r *Rounds) Lead() string {
	if len(r.Tanks) == 0 {
		return "No tank is configured yet."
	}
	var soon, later, mute int
	for i := range r.Tanks {
		switch needOfTank(&r.Tanks[i], r.Now) {
		case needNow:
			soon++
		case needToday:
			later++
		case silent:
			mute++
		}
	}
	for i := range r.SiteAlarms {
		if needOf(&r.SiteAlarms[i]) == needNow {
			soon = max(soon, 1)
		}
	}
	switch {
	case soon > 0 && later > 0:
		return upper(count(soon, "tank needs", "tanks need")) + " you now, " + count(later, "more", "more") + " today."
	case soon > 0:
		return upper(count(soon, "tank needs", "tanks need")) + " you now."
	case later > 0:
		return upper(count(later, "tank needs", "tanks need")) + " you today; nothing is urgent."
	case mute > 0:
		return upper(count(mute, "tank is", "tanks are")) + " silent; of the others nobody needs you."
	case len(r.SiteAlarms) > 0:
		return "No tank needs you; a site does."
	case len(r.Tanks) == 1:
		return "Nothing needs you."
	}
	return "Nothing needs you at any of the " + count(len(r.Tanks), "tank", "tanks") + "."
}

// SiteItems are what stands for whole sites.
func (r *Rounds) SiteItems() []Item { return items(r.SiteAlarms, r.Now) }

// OwnItems are what stands about lentic itself.
func (f *Frame) OwnItems() []Item { return items(f.Own, f.Now) }

// Clock is when the page was made.
func (f *Frame) Clock() string {
	return day(f.Now, f.Now, f.Zone) + ", " + f.Now.In(f.Zone).Format("15:04")
}

// Fast says that the clock is not life's.
func (f *Frame) Fast() bool { return f.Speed > 0 && f.Speed != 1 }

// Asset is the path of a file of the bundle.
func (f *Frame) Asset(name string) string {
	if h, ok := f.Assets[name]; ok {
		name = h
	}
	return "/static/" + name
}

func (v *TankView) link(to string) string { return to + string(v.Site.ID) + "/" + string(v.Tank.ID) }

// say writes the sentence on a tank into its row, with the word before it.
func (v *TankView) say(row *Row, now aquarium.Instant) {
	n := needOfTank(v, now)
	row.Need, row.High = needWords[n], n <= needToday
	if n >= silent {
		row.Sentence = doing(v, now)
		return
	}
	as := worst(v.Alarms)
	rest := 0
	for i := range as[1:] {
		if needOf(&as[1+i]) < settled {
			rest++
		}
	}
	if rest > 0 {
		row.More = "and " + count(rest, "thing", "things") + " more"
	}
	row.Sentence, row.Known, row.State = unbroken(as[0].Text), known(&as[0], now), stateOf(&as[0], now)
}

// Told is the strip that tells of the tank on rounds: the one that what needs
// the keeper rests on, else the first, which is pH where it is read; false for
// a tank of which nothing can be drawn.
func (v *TankView) Told() (Strip, bool) {
	plan := Plan(v.Tank, false)
	if len(plan) == 0 {
		return Strip{}, false
	}
	if as := worst(v.Alarms); len(as) > 0 && needOf(&as[0]) <= needToday {
		return plan[stripOf(plan, &as[0])], true
	}
	return plan[0], true
}

// small draws the strip that tells of the tank, if its series are there.
func (v *TankView) small(now aquarium.Instant) (Drawing, bool) {
	st, ok := v.Told()
	if !ok || len(v.Strips) == 0 {
		return Drawing{}, false
	}
	st.Switches = nil
	c := v.canvas(now, 64)
	c.axis = true
	c.happened = unlettered(v.Alarms)
	return c.draw(st, v.Strips), true
}

func (v *TankView) canvas(now aquarium.Instant, h float64) canvas {
	return canvas{from: now.Add(-24 * time.Hour), to: now, now: now, zone: v.Site.Timezone, lights: v.Tank.Lights, h: h, latest: v.Latest}
}

// unlettered are alarms marked where no note names them.
func unlettered(as []Alarm) []Happening {
	hs := happenings(as, nil, nil, func(*Alarm) string { return "" }, nil)
	for i := range hs {
		hs[i].Letter, hs[i].Strip = "", -1
	}
	return hs
}

func heard(at, now aquarium.Instant, zone *time.Location) string {
	if at == 0 {
		return "Never heard"
	}
	if now.Sub(at) > 12*time.Hour {
		return "Last heard " + clock(at, now, zone)
	}
	return "Heard " + ago(at, now)
}
