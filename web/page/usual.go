package page

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"lentic/collector/aquarium"
)

// UsualStep is the part of a day for which it is told what is usual.
const UsualStep = 30 * time.Minute

const usualSlots = int(24 * time.Hour / UsualStep)

// leastUsual is how many days must have been seen at that time of day before
// anything is called usual. Common practice, no source.
const leastUsual = 5

// Usual is what is usual for a sensor at each half hour of the site's day:
// between Lo and Hi lay eight tenths of what was seen then. NaN where too few
// days were.
type Usual struct {
	Lo, Hi []float64 // by half hours after midnight
	Days   int
}

// UsualOf tells what is usual from means of half hours at the times at, in
// the zone's day. Neighbouring half hours count too, so that a habit that
// shifts by minutes draws no teeth. ok is false when nothing is known.
func UsualOf(at []aquarium.Instant, mean []float64, zone *time.Location) (u Usual, ok bool) {
	var seen [usualSlots][]float64
	days, byDay := map[int]bool{}, [usualSlots]map[int]bool{}
	for i, t := range at {
		local := t.In(zone)
		slot, d := slotOf(local), dayOf(local)
		seen[slot] = append(seen[slot], mean[i])
		if byDay[slot] == nil {
			byDay[slot] = map[int]bool{}
		}
		byDay[slot][d], days[d] = true, true
	}
	u = Usual{Lo: make([]float64, usualSlots), Hi: make([]float64, usualSlots), Days: len(days)}
	for i := range usualSlots {
		u.Lo[i], u.Hi[i] = math.NaN(), math.NaN()
		if len(byDay[i]) < leastUsual {
			continue
		}
		near := slices.Concat(seen[(i+usualSlots-1)%usualSlots], seen[i], seen[(i+1)%usualSlots])
		slices.Sort(near)
		u.Lo[i], u.Hi[i], ok = quantile(near, 0.1), quantile(near, 0.9), true
	}
	return u, ok
}

func slotOf(t time.Time) int {
	return int(time.Duration(t.Hour()*60+t.Minute()) * time.Minute / UsualStep)
}

// quantile of vs, which are sorted, between neighbours by their distance
// (Hyndman and Fan 1996, definition 7).
func quantile(vs []float64, p float64) float64 {
	x := p * float64(len(vs)-1)
	i := int(x)
	if i+1 >= len(vs) {
		return vs[len(vs)-1]
	}
	return vs[i] + (x-float64(i))*(vs[i+1]-vs[i])
}

// HasUsual reports whether a sensor has a usual course of the day. What fills
// and empties over days has none, nor has what only switches.
func HasUsual(s aquarium.Sensor) bool {
	switch s.Quantity {
	case aquarium.PH, aquarium.Temperature, aquarium.Flow, aquarium.Conductivity, aquarium.Humidity, aquarium.Gas:
		return true
	}
	return false
}

// usually outlines what is usual over a stretch. Over more than a week and a
// bit the days are too narrow to be told apart.
func (c canvas) usually(id aquarium.SensorID, sc scale) []string {
	u, ok := c.usual[id]
	if !ok || c.to.Sub(c.from) > 9*24*time.Hour {
		return nil
	}
	var out []string
	var top, bottom []string
	flush := func() {
		if len(top) > 1 {
			slices.Reverse(bottom)
			out = append(out, "M"+strings.Join(top, "L")+"L"+strings.Join(bottom, "L")+"Z")
		}
		top, bottom = nil, nil
	}
	// A slot's value stands at its middle.
	for at := c.from.Floor(UsualStep).Add(-UsualStep / 2); at <= c.to.Add(UsualStep); at = at.Add(UsualStep) {
		i := slotOf(at.In(c.zone))
		if math.IsNaN(u.Lo[i]) {
			flush()
			continue
		}
		x := math.Max(0, math.Min(sheet, c.x(at)))
		top = append(top, fmt.Sprintf("%.1f %.1f", x, c.within(sc.y(u.Hi[i], c.h))))
		bottom = append(bottom, fmt.Sprintf("%.1f %.1f", x, c.within(sc.y(u.Lo[i], c.h))))
	}
	flush()
	return out
}

func (c canvas) within(y float64) float64 { return math.Max(0, math.Min(c.h, y)) }

// usualLine says what the pale band is.
func usualLine(us map[aquarium.SensorID]Usual) string {
	days := 0
	for _, u := range us {
		days = max(days, u.Days)
	}
	if days == 0 {
		return ""
	}
	return fmt.Sprintf("The pale band is what is usual at that time of day: eight tenths of the last %d days lay within.", days)
}

// usualData is Usual for the script: null where nothing is known, and no finer
// than a strip can show.
type usualData struct {
	Lo []*float64 `json:"lo"`
	Hi []*float64 `json:"hi"`
}

func (u Usual) data() usualData {
	known := func(vs []float64) []*float64 {
		out := make([]*float64, len(vs))
		for i, v := range vs {
			if !math.IsNaN(v) {
				v = math.Round(v*1000) / 1000
				out[i] = &v
			}
		}
		return out
	}
	return usualData{known(u.Lo), known(u.Hi)}
}
