package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// A wrong unit is there from the device's first reading on and does not go away
// by itself, so nothing is lost by waiting for ten minutes, and for five
// readings, until no splash and no hand can be meant: that is the deadline, as
// common practice.
const (
	unitOn    = 10 * time.Minute
	unitLeast = 5
	unitOff   = 10 * time.Minute
)

// mistaken is a unit a device may send where another one is meant.
type mistaken struct {
	sent   aquarium.Unit
	scale  float64 // v*scale + offset is what it then means
	offset float64
}

// mistakes are those whose factor can be recognised: what they make of a value
// is far beyond what a tank's sensor can say, and becomes what it says every
// day. Of feet for metres, or gallons for litres, that is not so. The units'
// factors are exact, as in package aquarium.
var mistakes = map[aquarium.Quantity][]mistaken{
	aquarium.Temperature:  {{"[degF]", 5.0 / 9, -160.0 / 9}, {"K", 1, -273.15}},
	aquarium.Level:        {{"m", 1000, 0}, {"cm", 10, 0}},
	aquarium.Volume:       {{"m3", 1000, 0}, {"ml", 0.001, 0}},
	aquarium.Flow:         {{"l/min", 60, 0}, {"m3/h", 1000, 0}, {"l/s", 3600, 0}},
	aquarium.Conductivity: {{"mS/cm", 1000, 0}, {"S/m", 10000, 0}},
	aquarium.Humidity:     {{"1", 100, 0}},
	aquarium.Gas:          {{"%", 10000, 0}},
	aquarium.Mass:         {{"g", 0.001, 0}, {"t", 1000, 0}}, // kg taken for g are t taken for kg
}

// span is what a sensor in its place can say, by the wildest guess (can), and
// what it says every day (does). Common practice, no source.
type span struct{ can, does aquarium.Range }

// spanOf is false where a sensor's place says too little.
func (t *tank) spanOf(s *series) (span, bool) {
	e := &t.config.Equipment
	id := s.config.ID
	r := func(lo, hi float64) aquarium.Range { return aquarium.Range{Lo: lo, Hi: hi} }
	switch q := s.config.Quantity; {
	case q == aquarium.Temperature && e.Room != nil && e.Room.Temperature == id:
		return span{r(-10, 45), r(10, 35)}, true
	case q == aquarium.Temperature:
		return span{r(2, 45), r(15, 35)}, true
	case q == aquarium.Conductivity: // pure water has 0.06, reverse osmosis 2 at the best
		return span{r(1.5, 20000), r(20, 2000)}, true
	case q == aquarium.Humidity:
		return span{r(5, 105), r(20, 100)}, true
	case q == aquarium.Gas && e.Room != nil && e.Room.CO2 == id: // no air has less than the air outside
		return span{r(200, 200000), r(350, 60000)}, true
	case q == aquarium.Mass && e.CO2 != nil && e.CO2.Cylinder != nil && e.CO2.Cylinder.Mass == id && e.CO2.Cylinder.TareKG > 0:
		tare := e.CO2.Cylinder.TareKG
		return span{r(0.3*tare, 10*tare), r(0.7*tare, 3*tare)}, true
	case q == aquarium.Volume && e.Reservoir != nil && e.Reservoir.Volume == id && e.Reservoir.CapacityL > 0:
		full := e.Reservoir.CapacityL
		return span{r(0.01*full, 5*full), r(0.1*full, 1.2*full)}, true
	case q == aquarium.Level && e.Drain != nil && e.Drain.Level == id && e.Drain.StopMM > 0:
		return span{r(0.5*e.Drain.StopMM, 5000), r(0.8*e.Drain.StopMM, 1.3*max(e.Drain.StartMM, e.Drain.OverflowMM))}, true
	case q == aquarium.Flow:
		for _, f := range e.Filters {
			if f.Flow == id && f.RatedLH > 0 {
				return span{r(0.03*f.RatedLH, 10*f.RatedLH), r(0.4*f.RatedLH, 1.1*f.RatedLH)}, true
			}
		}
	}
	return span{}, false
}

// mistake is the unit that a sensor sends where another is meant, and what its
// value is then.
func (t *tank) mistake(s *series, v float64) (m mistaken, means float64, ok bool) {
	sp := &s.span
	if !s.spanned || v >= sp.can.Lo && v <= sp.can.Hi {
		return m, 0, false
	}
	for _, m := range mistakes[s.config.Quantity] {
		if x := v*m.scale + m.offset; x >= sp.does.Lo && x <= sp.does.Hi {
			return m, x, true
		}
	}
	return m, 0, false
}

// unitSuspect: a sensor's values are off by the factor between two units. A flow
// that has stopped is none, nor is one that was right before and is nearly gone.
func unitSuspect(v *view, t *tank) {
	for _, s := range t.order {
		if !s.spoken(ofUnit) && (s != t.level || t.vessel.scaled.at == 0) && (!s.spanned || s.refused.n == 0 && s.span.can.Lo <= s.value() && s.value() <= s.span.can.Hi) {
			continue // as nearly always, or none can be told of it
		}
		value, n, since := s.said(v.now)
		if n == 0 {
			continue
		}
		m, means, is := t.inAnotherUnit(v, s, value)
		if x := &t.vessel.scaled; s == t.level && x.at != 0 && !is {
			m, means, is, since = mistaken{sent: x.unit(s.config)}, value/x.by, true, x.at
		}
		if !is && !s.spoken(ofUnit) || n < unitLeast {
			continue
		}
		s.speak(ofUnit, is)
		v.find(aquarium.UnitSuspect, t.config.ID, finding{
			equipment: aquarium.EquipmentKey(s.config.ID), true: is, since: since, on: unitOn, off: unitOff,
			prove: func() aquarium.Evidence {
				e := aquarium.Evidence{Sensor: s.config.ID, Value: value, Unit: s.config.Quantity.Unit()}
				if is {
					e.Expected = of(means)
					if m.sent != "" {
						e.Facts = []aquarium.Fact{word(FactSent, string(m.sent))}
					}
				}
				return e
			},
		})
	}
}

// sameWarmth is how far water or a room may be from what it was when its sensor began
// to say it in another unit, K: a broken one's 85 is no Fahrenheit. Once that is told it
// goes on with the weather. Common practice, no source.
const sameWarmth = 3.0

// inAnotherUnit is mistake of what a sensor says now: a flow must be the one the
// filter had, and water as warm as it was.
func (t *tank) inAnotherUnit(v *view, s *series, value float64) (m mistaken, means float64, ok bool) {
	m, means, ok = t.mistake(s, value)
	if ok && s.config.Quantity == aquarium.Flow {
		ok = value > 0 && t.sameFlow(s, means, v.now)
	}
	if ok && s.config.Quantity == aquarium.Temperature && s.refused.n > 0 && len(s.points) > 0 &&
		!v.stands(aquarium.UnitSuspect, t.config.ID, aquarium.EquipmentKey(s.config.ID)) {
		was := s.value()
		if _, x, is := t.mistake(s, was); is { // some of what it says in that unit is judged
			was = x
		}
		ok = math.Abs(means-was) <= sameWarmth
	}
	return m, means, ok
}

// sameFlow reports whether a flow in another unit is the one the filter had: a
// filter that nearly stands still has no reason to.
func (t *tank) sameFlow(s *series, means float64, at aquarium.Instant) bool {
	days := t.learned.Sensors[s.config.ID].Days
	for i := len(days) - 1; i >= 0; i-- {
		if d := days[i]; d.N > 0 && d.High >= leastFlow {
			return math.Abs(means-d.High) <= 0.15*d.High
		}
	}
	best := s.highest(at)
	return best < leastFlow // never right
}

// said is a sensor's present value, counted or not, how many readings there are
// to it and since when they have come; n is 0 where nothing comes. A few that are refused
// among those that count are spikes: one step of a sensor is more of them in a smaller unit.
func (s *series) said(at aquarium.Instant) (v float64, n int, since aquarium.Instant) {
	if n := s.refused.n; n >= unitLeast || n > 0 && !s.current(at) {
		if !s.lasts(s.refused.last, at) {
			return 0, 0, 0
		}
		return s.refused.value, s.refused.n, s.refused.since
	}
	if !s.current(at) || s.config.Quantity == aquarium.Switch {
		return 0, 0, 0
	}
	return s.value(), len(s.points), 0
}

func blindUnit(c *aquarium.Tank) string {
	t := newTank("", c)
	for _, s := range t.order {
		if s.spanned {
			return ""
		}
	}
	return "no sensor whose unit could be recognised"
}
