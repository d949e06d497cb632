package page

import (
	"cmp"
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// Kinds of what happens at a tank.
const (
	alarmKind = "alarm"
	visitKind = "visit"
	testKind  = "test"
)

// Happening is what the strips mark: an alarm from its beginning to its end, a
// visit, a hand test. The same list marks the still strips and the moving ones.
type Happening struct {
	At     aquarium.Instant `json:"at"`
	Until  aquarium.Instant `json:"until"` // when it was over; 0: a moment, or Open
	Open   bool             `json:"open"`  // it lasts still
	Kind   string           `json:"kind"`
	High   bool             `json:"high"`
	Letter string           `json:"letter"` // its note's; alarms in capitals, what people did in small ones
	Strip  int              `json:"strip"`  // where in the plan it is told; below 0: on each
	key    string           // of the alarm or the entry
	text   string
	link   string
	needs  bool
	byDay  bool // a service
}

// happenings are alarms and entries, newest first and lettered so.
func happenings(as []Alarm, es []aquarium.Entry, plan []Strip, say func(*Alarm) string, tell func(aquarium.Entry) string) []Happening {
	var hs []Happening
	seen := map[aquarium.AlarmID]bool{}
	for i := range as {
		a := &as[i]
		if seen[a.ID] {
			continue
		}
		seen[a.ID] = true
		h := Happening{At: a.Since, Kind: alarmKind, High: a.Priority == aquarium.High && !a.PageOnly, Strip: stripOf(plan, a),
			key: string(a.ID), text: say(a), link: "/alarm/" + string(a.ID), needs: needOf(a) <= needToday}
		if h.Open = a.Active || a.Returned == 0; !h.Open {
			h.Until = a.Returned
		}
		hs = append(hs, h)
	}
	for _, e := range es {
		if h := (Happening{At: e.At, key: e.ID, text: tell(e), Kind: kindOf[e.Kind], byDay: e.Kind == aquarium.Serviced}); h.text != "" {
			switch e.Kind {
			case aquarium.Visit, aquarium.Deaf:
				h.Until, h.Open = e.Until, e.Until == 0
			case aquarium.HandTest:
				h.Strip = stripOfSensor(plan, CO2Estimate.ID)
			case aquarium.Calibrated:
				if e.Calibration != nil {
					h.Strip = stripOfSensor(plan, e.Calibration.Sensor)
				}
			}
			hs = append(hs, h)
		}
	}
	slices.SortStableFunc(hs, func(a, b Happening) int { return cmp.Compare(b.At, a.At) })
	letter(hs)
	return hs
}

// kindOf is how an entry of the journal is marked; deafness is a gap already.
var kindOf = map[aquarium.EntryKind]string{aquarium.Visit: visitKind, aquarium.Serviced: visitKind, aquarium.HandTest: testKind, aquarium.Calibrated: testKind}

// when says when it happened; a service noted by its day alone has no hour.
func (h Happening) when(now aquarium.Instant, zone *time.Location) string {
	if t := h.At.In(zone); h.byDay && t.Hour() == 0 && t.Minute() == 0 {
		return t.Format("2 Jan")
	}
	return clock(h.At, now, zone)
}

// letter names what is marked, newest first; after the alphabet nothing is.
func letter(hs []Happening) {
	next := map[bool]rune{true: 'A', false: 'a'}
	for i := range hs {
		alarm := hs[i].Kind == alarmKind
		if hs[i].Kind == "" || next[alarm] > 'Z' && alarm || next[alarm] > 'z' {
			continue
		}
		hs[i].Letter = string(next[alarm])
		next[alarm]++
	}
}

// stripOf is the strip an alarm belongs to: that of the sensor it rests on.
func stripOf(plan []Strip, a *Alarm) int {
	if a.Evidence.Sensor != "" {
		return stripOfSensor(plan, a.Evidence.Sensor)
	}
	return stripOfSensor(plan, aquarium.SensorID(a.Equipment))
}

// stripOfSensor is the strip that draws a sensor, else the first.
func stripOfSensor(plan []Strip, id aquarium.SensorID) int {
	for i, st := range plan {
		for _, l := range st.Lines {
			if l.Sensor == id {
				return i
			}
		}
		for _, w := range st.Switches {
			if w.Sensor == id {
				return i
			}
		}
	}
	return 0
}

// mark is a happening on one strip, in per cent of its width.
type mark struct {
	Kind   string
	High   bool
	Own    bool // this strip tells it: drawn heavy, with its letter
	Begins bool // it began within the strip
	X      float64
	Ends   bool
	EndX   float64
	W      float64 // how long it lasted, from X on; 0: a moment
	Letter string
	Y      float64 // of the letter
	Left   bool    // the letter stands left of the line, for want of room
}

// marks are the happenings of a stretch on strip number strip.
func marks(hs []Happening, from, to aquarium.Instant, strip int) []mark {
	var ms []mark
	for _, h := range hs {
		until := h.Until
		if h.Open {
			until = to
		}
		last := max(h.At, until)
		if h.Kind == "" || h.At > to || last < from {
			continue
		}
		m := mark{Kind: h.Kind, High: h.High, Own: h.Strip == strip || h.Strip < 0, Begins: h.At >= from, Ends: !h.Open && until > h.At && until <= to}
		m.X, m.EndX = round1(percent(max(h.At, from), from, to)), round1(percent(min(last, to), from, to))
		m.W, m.Left = round1(m.EndX-m.X), m.X > 95
		if m.Own {
			m.Letter, m.Y = h.Letter, letterRow
		}
		for _, o := range ms { // letters that would stand on one another stand beneath one another
			if m.Own && o.Own && o.Letter != "" && m.Letter != "" && m.X-o.X < 5 && o.X-m.X < 5 {
				m.Y = max(m.Y, o.Y+12)
			}
		}
		ms = append(ms, m)
	}
	return ms
}

// letterRow is the height of the first letter's line.
const letterRow = 18.0
