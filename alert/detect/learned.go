package detect

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/screen"
)

// What a tank is like shows over days and weeks: its flow since the last
// cleaning, its evaporation, the pH its nights come to. That is more than
// Memory, so it is kept as a document of its own, which grows by a day at a
// time and is handed back at a start. A watch that is warmed up over Memory
// meets the days it has learned already once more, and passes over them.

const (
	day = 24 * time.Hour
	// A day of UTC is learned some time after its end, so that what comes late
	// by a few minutes is in it.
	learnAfter = 15 * time.Minute
	hoursKept  = 15 * 24 // two weeks, and a day besides
	daysKept   = 200     // a canister filter clogs in half that
)

// Learned is what has been learned of one tank. It is never changed: each day
// makes a new one, which shares with the last what has not changed.
type Learned struct {
	Tank    aquarium.TankID             `json:"tank"`
	Through aquarium.Instant            `json:"through"` // all days of UTC up to here
	Since   aquarium.Instant            `json:"since"`   // the first day
	Sensors map[aquarium.SensorID]Diary `json:"sensors,omitempty"`

	Filters map[aquarium.EquipmentKey]FilterLearned `json:"filters,omitempty"`
	Screen  *screen.State                           `json:"screen,omitempty"` // not changed
	Pauses  []Pause                                 `json:"pauses,omitempty"` // the oldest first
	Vessel  Vessel                                  `json:"vessel,omitzero"`
	Company Company                                 `json:"company,omitzero"`
	// Still is how still each sensor stands by itself, by days, the newest last.
	Still map[aquarium.SensorID][]Stillness `json:"still,omitempty"`
	// Drift is what the mornings of dosing have come to; nil: none was seen.
	Drift *Drift `json:"drift,omitempty"`
	// Held is what the gas has come to that holds a tank day and night; nil: it is not.
	Held *Held `json:"held,omitempty"`
	// Lateness is how far an electrode is behind the water it doses by.
	Lateness Lateness `json:"lateness,omitzero"`
	Vigour   Vigour   `json:"vigour,omitzero"`
}

// lesson makes of a day that has just ended what a cause wants to know of it.
// The document has the day's diary in it already; whatever a lesson changes in it
// it replaces by a copy.
type lesson func(v *view, t *tank, l *Learned)

// lessons, in the order in which they are learned.
var lessons = []lesson{learnScreen, learnFlows, learnPauses, learnVessel, learnStill, learnDrift, learnHeld, learnVigour, learnLateness, learnCompany}

// Days is how many whole days the tank has been known for.
func (l *Learned) Days() int { return int(l.Through.Sub(l.Since) / day) }

// Learned is what has been learned of each tank, to be kept, in the order of the
// configuration.
func (w *Watch) Learned() []*Learned {
	var ls []*Learned
	for _, t := range w.tanks {
		if t.learned.Through != 0 {
			ls = append(ls, t.learned)
		}
	}
	return ls
}

// Recall hands back what was learned before; it comes before the first tick.
// What is about other tanks or sensors than those configured is left out.
func (w *Watch) Recall(l *Learned) {
	t := w.places[l.Tank]
	if t == nil || l.Through == 0 {
		return
	}
	own := *l
	own.Sensors = maps.Clone(l.Sensors)
	maps.DeleteFunc(own.Sensors, func(id aquarium.SensorID, _ Diary) bool { return t.sensor(id) == nil })
	t.learned = &own
	if own.Screen != nil {
		t.screen.Restore(own.Screen)
		t.screened = own.Screen.Heard() + 1 // what is older is not screened again
	}
}

// learn takes in each day that has ended.
func (t *tank) learn(v *view) {
	if t.learned.Through == 0 {
		from := v.now.Floor(day)
		t.learned = &Learned{Tank: t.config.ID, Through: from, Since: from}
	}
	if gap := v.now.Sub(t.learned.Through); gap > hoursKept*time.Hour { // nobody was there for weeks
		next := *t.learned
		next.Through = v.now.Floor(day).Add(-day)
		next.Company = Company{}
		next.Sensors = maps.Clone(next.Sensors)
		for id, d := range next.Sensors {
			d.Hours = nil
			next.Sensors[id] = d
		}
		t.learned = &next
	}
	for v.now.Sub(t.learned.Through) >= day+learnAfter {
		next := *t.learned
		next.Through = next.Through.Add(day)
		next.Sensors = make(map[aquarium.SensorID]Diary, len(t.order))
		for _, s := range t.order {
			next.Sensors[s.config.ID] = t.learned.Sensors[s.config.ID].with(s, t.learned.Through)
		}
		for _, l := range lessons {
			l(v, t, &next)
		}
		t.learned = &next
	}
}

// Diary is what a sensor has come to.
type Diary struct {
	Hours []Hour `json:"hours,omitempty"` // the newest last, without a gap, up to Through
	Days  []Day  `json:"days,omitempty"`  // likewise
}

// with is the diary and one more day of the series.
func (d Diary) with(s *series, from aquarium.Instant) Diary {
	var hs [24]Hour
	for i := range hs {
		if h, ok := s.hourAt(from.Add(time.Duration(i) * time.Hour)); ok {
			hs[i] = h
		}
	}
	return Diary{
		Hours: append(slices.Clone(last(d.Hours, hoursKept-24)), hs[:]...),
		Days:  append(slices.Clone(last(d.Days, daysKept-1)), dayOf(hs[:])),
	}
}

// last is the last n of xs at the most.
func last[T any](xs []T, n int) []T { return xs[max(0, len(xs)-n):] }

// Hour is what a sensor came to within one hour.
type Hour struct {
	N         int     // judged values; 0: none came
	Mean      float64 // of a switch the share of the hour it was on
	Low, High float64 // of the medians of three; not of a switch
	Turns     int     // of a switch, how often it was turned on
}

// Day is the same of a day of UTC.
type Day = Hour

// MarshalJSON writes five numbers, for there are thousands of them; the values
// to the sixth digit, which no sensor has.
func (h Hour) MarshalJSON() ([]byte, error) {
	if h.N == 0 {
		return []byte("[]"), nil
	}
	b := strconv.AppendInt([]byte{'['}, int64(h.N), 10)
	for _, v := range [...]float64{h.Mean, h.Low, h.High} {
		b = strconv.AppendFloat(append(b, ','), v, 'g', 6, 64)
	}
	return append(strconv.AppendInt(append(b, ','), int64(h.Turns), 10), ']'), nil
}

// UnmarshalJSON reads what MarshalJSON writes.
func (h *Hour) UnmarshalJSON(b []byte) error {
	var vs []float64
	if err := json.Unmarshal(b, &vs); err != nil {
		return err
	}
	*h = Hour{}
	if len(vs) == 0 {
		return nil
	}
	if len(vs) != 5 {
		return fmt.Errorf("an hour of %d numbers: want number, mean, low, high, turns", len(vs))
	}
	*h = Hour{N: int(vs[0]), Mean: vs[1], Low: vs[2], High: vs[3], Turns: int(vs[4])}
	return nil
}

// digits is v as MarshalJSON keeps it, so that what is learned is the same
// whether it was kept meanwhile or not.
func digits(v float64) float64 {
	v, _ = strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	return v
}

func (h hour) summed(q aquarium.Quantity) Hour {
	out := Hour{N: h.n, Turns: h.turns}
	switch {
	case q == aquarium.Switch:
		out.Mean = digits(h.sum / float64(time.Hour.Milliseconds()))
	case h.n > 0:
		out.Mean, out.Low, out.High = digits(h.sum/float64(h.n)), digits(h.low), digits(h.high)
	}
	return out
}

// dayOf sums hours up. Each hour counts the same, however many values it had.
func dayOf(hs []Hour) Day {
	var d Day
	n := 0.0
	for _, h := range hs {
		if h.N == 0 {
			continue
		}
		if d.N == 0 {
			d.Low, d.High = h.Low, h.High
		}
		d.N, d.Turns = d.N+h.N, d.Turns+h.Turns
		d.Low, d.High = min(d.Low, h.Low), max(d.High, h.High)
		d.Mean += h.Mean
		n++
	}
	if n > 0 {
		d.Mean = digits(d.Mean / n)
	}
	return d
}

// hourOf is what the hour of a sensor that begins at that whole hour came to,
// within Memory or learned; its N is 0 where nothing is known.
func (t *tank) hourOf(s *series, at aquarium.Instant) Hour {
	if s == nil {
		return Hour{}
	}
	h, held := s.hourAt(at)
	if !held {
		h = Hour{}
	}
	if at >= t.learned.Through {
		return h
	}
	hs := t.learned.Sensors[s.config.ID].Hours
	if i := len(hs) - int(t.learned.Through.Sub(at)/time.Hour); i >= 0 && hs[i].N > h.N {
		return hs[i] // the looking began within it, or since
	}
	return h
}
