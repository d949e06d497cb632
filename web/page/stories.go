package page

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// Story is one state of one page, with invented data: for tests, and for
// looking at every state without waiting for it to happen.
type Story struct {
	Name string // "rounds-alarm"
	Page Page
}

// Stories lists every state. zone is the sites' zone; nil means UTC. Each call
// makes new values.
func Stories(zone *time.Location) []Story {
	if zone == nil {
		zone = time.UTC
	}
	s := stage{zone: zone, now: aquarium.At(time.Date(2031, 3, 4, 2, 26, 0, 0, time.UTC))}
	ss := []Story{
		{"rounds-empty", &Rounds{Frame: s.frame()}},
		{"rounds-settled", &Rounds{Frame: s.frame(), Tanks: []TankView{s.tank("atrium", nil), s.tank("lobby", nil)}}},
		{"rounds-alarm", &Rounds{Frame: s.frame(), Tanks: []TankView{s.tank("lobby", nil), s.tank("atrium", s.crash()), s.silent()}}},
		{"rounds-young", &Rounds{Frame: s.frame(), Tanks: []TankView{s.tank("lobby", nil), s.young()}}},
		{"rounds-known", &Rounds{Frame: s.frame(), Tanks: []TankView{s.unseen(), s.visited()}}},
		{"tank-settled", &TankPage{Frame: s.frame(), View: s.tank("atrium", nil), KH: 4}},
		{"tank-alarm", &TankPage{Frame: s.frame(), View: s.tank("atrium", s.crash()), KH: 4.5, KHAt: s.now.Add(-70 * time.Hour), Journal: s.journal(), Recent: s.over(), Usual: s.usual(), Blind: []string{"water loss: no reservoir"}}},
		{"tank-young", &TankPage{Frame: s.frame(), View: s.young(), KH: 4}},
		{"tank-known", &TankPage{Frame: s.frame(), View: s.unseen(), KH: 4}},
		{"tank-learning", &TankPage{Frame: s.frame(), View: s.tank("atrium", nil), KH: 4, Learning: true}},
		{"tank-silent", &TankPage{Frame: s.frame(), View: s.silent()}},
		{"rounds-uncounted", &Rounds{Frame: s.frame(), Tanks: []TankView{s.lying(), s.tank("lobby", nil)}}},
		{"tank-uncounted", &TankPage{Frame: s.frame(), View: s.lying(), KH: 4, Usual: s.usual()}},
		{"tank-visit", &TankPage{Frame: s.frame(), View: s.visited(), KH: 4}},
	}
	ss = append(ss, s.alarms()...)
	ss = append(ss, s.sheets()...)
	return append(ss, s.lists()...)
}

// stage is where the stories play.
type stage struct {
	zone *time.Location
	now  aquarium.Instant
}

func (s stage) frame() Frame { return Frame{Now: s.now, Zone: s.zone, Person: "keeper"} }

func (s stage) site(id aquarium.TankID) (*aquarium.Site, *aquarium.Tank) {
	at := &aquarium.Site{ID: "quillmere-library", Name: "Quillmere Library", Timezone: s.zone, Access: "Valve cupboard left of the tank", HoursAs: "Mon-Fri 08:00-18:00"}
	t := aquarium.Tank{ID: id, Name: "Atrium island", AlkalinityDKH: 4, Lights: &aquarium.Span{From: 600, To: 1080},
		Limits: aquarium.Limits{PH: &aquarium.Range{Lo: 6.2, Hi: 8.4}, Temperature: &aquarium.Range{Lo: 22, Hi: 28}, CO2: 50},
		Sensors: []aquarium.Sensor{{ID: "ph", Quantity: aquarium.PH}, {ID: "water", Quantity: aquarium.Temperature}, {ID: "level", Quantity: aquarium.Level},
			{ID: "flow-a", Quantity: aquarium.Flow}, {ID: "flow-b", Quantity: aquarium.Flow}, {ID: "valve", Quantity: aquarium.Switch}, {ID: "topoff", Quantity: aquarium.Switch}},
		Equipment: aquarium.Equipment{CO2: &aquarium.CO2{PH: "ph", Target: 6.6, Band: 0.05, Valve: "valve"},
			TopOff:  &aquarium.TopOff{Level: "level", BandMM: 4, Pump: "topoff", RateLH: 90},
			Filters: []aquarium.Filter{{ID: "a", Flow: "flow-a", RatedLH: 1100}, {ID: "b", Flow: "flow-b", RatedLH: 1100}},
			Heater:  &aquarium.Heater{Temperature: "water", Target: 24.5}}}
	if id == "lobby" {
		at.ID, at.Name, t.Name = "hotel-sarnbrook", "Hotel Sarnbrook", "Lobby wall"
	}
	at.Tanks = []aquarium.Tank{t}
	return at, &at.Tanks[0]
}

// tank is a tank with a day of readings; with alarms its pH has crashed.
func (s stage) tank(id aquarium.TankID, as []Alarm) TankView {
	at, t := s.site(id)
	v := TankView{Site: at, Tank: t, Alarms: as, Heard: s.now.Add(-20 * time.Second)}
	v.Strips = s.series(t, s.now.Add(-24*time.Hour), s.now, 5*time.Minute, len(as) > 0)
	for _, ser := range v.Strips {
		n := len(ser.T) - 1
		v.Latest = append(v.Latest, Latest{Sensor: ser.Sensor, Value: ser.Mean[n], At: s.now.Add(-20 * time.Second), Every: time.Minute})
	}
	return v
}

func (s stage) silent() TankView {
	v := s.tank("lobby", nil)
	v.Heard = s.now.Add(-5 * time.Hour)
	for i := range v.Latest {
		v.Latest[i].At = v.Heard
	}
	for i := range v.Strips {
		ser := &v.Strips[i]
		n := len(ser.T) - 60
		ser.T, ser.Min, ser.Mean, ser.Max = ser.T[:n], ser.Min[:n], ser.Mean[:n], ser.Max[:n]
	}
	return v
}

// unseen is a tank whose readings stopped while an alarm stood.
func (s stage) unseen() TankView {
	v := s.silent()
	v.Alarms = s.crash()
	a := &v.Alarms[0]
	a.Evidence.LastKnown, a.Heard, a.Since = true, v.Heard, v.Heard.Add(-time.Hour)
	a.Told = []Told{{Name: "Keeper", By: "texts", At: v.Heard.Add(-50 * time.Minute)}}
	v.Last = s.now.Add(-9 * 24 * time.Hour)
	return v
}

// lying is a tank that is well and whose electrode hangs in the air: since half an
// hour, for some minutes in the evening, and its readings jumped twice besides. Its
// thermometer has said one and the same for hours.
func (s stage) lying() TankView {
	v := s.tank("atrium", nil)
	ph, water := &v.Strips[0], &v.Strips[1]
	ph.Poor, water.Poor = make([]bool, len(ph.T)), make([]bool, len(water.T))
	apart := func(x *Series, i, n int, value float64, q aquarium.Quality) {
		if n == 6 { // all of the bucket
			x.Poor[i], x.Min[i], x.Mean[i], x.Max[i] = true, value, value, value
		}
		x.Uncounted = append(x.Uncounted, Uncounted{x.T[i], value - 0.05, value, value + 0.05, n, q})
	}
	for i := range ph.T {
		switch before := len(ph.T) - i; {
		case before == 200, before == 150:
			apart(ph, i, 1, 9.4, aquarium.Spike)
		case before <= 6, before > 100 && before < 106:
			apart(ph, i, 6, 7.6+0.2*math.Sin(float64(i)), aquarium.InAir)
		}
	}
	for i := range water.T {
		if before := len(water.T) - i; before <= 60 {
			apart(water, i, 6, water.Mean[len(water.T)-60], aquarium.Frozen)
		}
	}
	for i := range v.Latest {
		switch l := &v.Latest[i]; l.Sensor.ID {
		case "ph":
			l.Value, l.Quality, l.Since = 7.62, aquarium.InAir, s.now.Add(-30*time.Minute)
		case "water":
			l.Quality, l.Since = aquarium.Frozen, s.now.Add(-6*time.Hour)
		case CO2Estimate.ID:
			l.At, l.Quality, l.Since = s.now.Add(-31*time.Minute), aquarium.InAir, s.now.Add(-30*time.Minute)
		}
	}
	return v
}

// usual is a course of the day like that of series.
func (s stage) usual() map[aquarium.SensorID]Usual {
	u := Usual{Days: 13}
	for i := range usualSlots {
		mid := 6.6 + 0.05*math.Sin(float64(i)/7.6)
		u.Lo, u.Hi = append(u.Lo, mid-0.04), append(u.Hi, mid+0.04)
	}
	return map[aquarium.SensorID]Usual{"ph": u}
}

func (s stage) visited() TankView {
	v := s.tank("atrium", nil)
	v.Visit = &aquarium.Entry{Kind: aquarium.Visit, At: s.now.Add(-time.Hour), Until: s.now.Add(time.Hour), By: "keeper"}
	return v
}

// series invents readings that rise and fall as a tank's do, with a gap.
func (s stage) series(t *aquarium.Tank, from, to aquarium.Instant, step time.Duration, crash bool) []Series {
	var ss []Series
	for _, sen := range append(t.Sensors, CO2Estimate) {
		ser := Series{Sensor: sen, Gap: 3 * step}
		for at := from; at < to; at = at.Add(step) {
			h := float64(at-from) / 3.6e6
			if h > 9 && h < 9.6 {
				continue // the link was down
			}
			fall := math.Max(0, 2-float64(to-at)/3.6e6)
			if !crash {
				fall = 0
			}
			v, w := invent(sen, h, fall)
			ser.T = append(ser.T, at)
			ser.Mean, ser.Min, ser.Max = append(ser.Mean, v), append(ser.Min, v-w), append(ser.Max, v+w)
		}
		ss = append(ss, ser)
	}
	return ss
}

func invent(sen aquarium.Sensor, h, fall float64) (v, breadth float64) {
	wave, fast := math.Sin(h/3.82), math.Sin(h*7)
	switch {
	case sen.ID == CO2Estimate.ID:
		return 31 - 2*wave + 38*fall, 1
	case sen.Quantity == aquarium.PH:
		return 6.6 + 0.03*wave + 0.015*fast - 0.31*fall, 0.01
	case sen.Quantity == aquarium.Temperature:
		return 24.5 + 0.3*wave, 0.05
	case sen.Quantity == aquarium.Level:
		return 3 - math.Mod(h, 6), 0.5
	case sen.ID == "flow-b":
		return 960 + 10*fast, 10
	case sen.Quantity == aquarium.Flow:
		return 1040 + 12*wave, 10
	}
	if on := math.Mod(h, 3) < 0.5 || sen.ID == "valve" && fall > 0; on {
		return 1, 0
	}
	return 0, 0
}

func (s stage) crash() []Alarm {
	perHour, target := -0.31, 6.6
	return []Alarm{{Alarm: aquarium.Alarm{ID: "a1", Identity: aquarium.Identity{Site: "quillmere-library", Tank: "atrium", Cause: aquarium.CO2Overshoot, Equipment: "co2"},
		Priority: aquarium.High, State: aquarium.Unacknowledged, Active: true, Since: s.now.Add(-80 * time.Minute), Raised: s.now.Add(-70 * time.Minute),
		Evidence: aquarium.Evidence{Sensor: "ph", Value: 5.98, Unit: "pH", PerHour: &perHour, Expected: &target},
		History:  []aquarium.AlarmEvent{{At: s.now.Add(-70 * time.Minute), What: "raised"}}},
		Text: "Too much CO2: pH 5.98, 0.62 under its target.", SiteName: "Quillmere Library", TankName: "Atrium island", Zone: s.zone}}
}

// clogging is what a tank shows and tells nobody in its first weeks.
func (s stage) clogging() Alarm {
	return Alarm{Alarm: aquarium.Alarm{ID: "a2", Identity: aquarium.Identity{Site: "quillmere-library", Tank: "atrium", Cause: aquarium.FilterClogging, Equipment: "a"},
		Priority: aquarium.Low, State: aquarium.Unacknowledged, Active: true, Since: s.now.Add(-20 * time.Hour), Raised: s.now.Add(-20 * time.Hour), PageOnly: true,
		Evidence: aquarium.Evidence{Sensor: "flow-a", Value: 890, Unit: "l/h"}, Projected: s.now.Add(11 * 24 * time.Hour)},
		Text: "Filter a clogs. Flow 890 l/h, service due 15 Mar.", SiteName: "Quillmere Library", TankName: "Atrium island", Zone: s.zone}
}

// young is a tank that is running in.
func (s stage) young() TankView {
	v := s.tank("atrium", nil)
	v.Tank.Started, v.Alarms = s.now.Add(-30*24*time.Hour).Time(), []Alarm{s.clogging()}
	return v
}

// over is an alarm of the day before that went by itself.
func (s stage) over() []Alarm {
	return []Alarm{{Alarm: aquarium.Alarm{ID: "a0", Identity: aquarium.Identity{Site: "quillmere-library", Tank: "atrium", Cause: aquarium.FilterStalled, Equipment: "a"},
		Priority: aquarium.Medium, State: aquarium.Normal, Since: s.now.Add(-11 * time.Hour), Raised: s.now.Add(-11 * time.Hour), Returned: s.now.Add(-8 * time.Hour),
		Evidence: aquarium.Evidence{Sensor: "flow-a", Unit: "l/h"}}, Text: "Filter a stands still.", SiteName: "Quillmere Library", TankName: "Atrium island", Zone: s.zone}}
}

func (s stage) journal() []aquarium.Entry {
	return []aquarium.Entry{
		{ID: "e0", Kind: aquarium.Visit, At: s.now.Add(-16 * time.Hour), Until: s.now.Add(-14 * time.Hour), By: "keeper", Note: "Glass cleaned"},
		{ID: "e4", Kind: aquarium.HandTest, At: s.now.Add(-15 * time.Hour), KH: 4.5, By: "keeper"},
		{ID: "e5", Kind: aquarium.Calibrated, At: s.now.Add(-15*time.Hour - 20*time.Minute), By: "keeper", Calibration: &aquarium.Calibration{Sensor: "ph", Unit: "pH",
			Temperature: 25, State: aquarium.AsFound, Buffers: []aquarium.Buffer{{Label: 7, Reading: 7.06}, {Label: 4.01, Reading: 4.09}}}},
		{ID: "e1", Kind: aquarium.Visit, At: s.now.Add(-72 * time.Hour), Until: s.now.Add(-70 * time.Hour), By: "keeper", Note: "Pruned, filter a cleaned"},
		{ID: "e2", Kind: aquarium.HandTest, At: s.now.Add(-70 * time.Hour), KH: 4.5, By: "keeper"},
		{ID: "e3", Kind: aquarium.Deaf, At: s.now.Add(-30 * time.Hour), Until: s.now.Add(-29 * time.Hour)},
	}
}
