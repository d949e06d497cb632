package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/water"
)

// assumedWater is what the estimate takes for the water's temperature where no
// sensor tells. Between 22 and 28 Cel it moves the estimate by less than a
// tenth.
const assumedWater = 25.0

// gas is what is known of a tank's CO2 at a tick.
type gas struct {
	part  *aquarium.CO2
	ph    *series
	value float64 // pH
	co2   float64 // mg/l; 0: not known
	// assumed is set where no sensor tells the water's temperature.
	assumed bool
}

// gasOf is false where the tank doses none or its pH is not known now, or not to
// be believed. While the causes look at the tank, it is the same for all of them.
func (t *tank) gasOf(v *view) (gas, bool) {
	if v.tank != t || !v.judging {
		return t.lookForGas(v)
	}
	if !t.gasKnown {
		t.gasKnown = true
		t.gas, t.gassed = t.lookForGas(v)
	}
	return t.gas, t.gassed
}

func (t *tank) lookForGas(v *view) (gas, bool) {
	part := t.config.Equipment.CO2
	if part == nil {
		return gas{}, false
	}
	s := t.parts.acid
	if !s.current(v.now) || t.inHand(v, s) || t.doubted() || t.scatters() {
		return gas{}, false
	}
	g := gas{part: part, ph: s, value: s.value()}
	g.estimate(v, t)
	return g, true
}

// facts is what is known besides the pH.
func (g *gas) facts(v *view, t *tank) []aquarium.Fact {
	var fs []aquarium.Fact
	if g.part.Target > 0 {
		fs = append(fs, num(FactTarget, g.part.Target, "pH"))
	}
	if g.co2 > 0 {
		fs = append(fs, num(FactCO2, g.co2, "mg/l"), num(FactKH, t.kh, "dKH"))
		if g.assumed {
			fs = append(fs, word(FactAssumed, "water at 25 Cel"))
		}
	}
	on, known := t.on(g.part.Valve, v.now)
	return append(fs, word(FactValve, stateWord(on, known, "open", "shut")))
}

// estimate works out the dissolved CO2 where the alkalinity is known. Values
// the chemistry does not reach are no estimate, and no alarm.
func (g *gas) estimate(v *view, t *tank) {
	if t.kh <= 0 {
		return
	}
	temperature := assumedWater
	g.assumed = true
	if s := t.water(); s.current(v.now) {
		temperature, g.assumed = s.value(), false
	}
	g.co2 = t.sums.co2(chemistry{g.value, t.kh, temperature})
}

// chemistry is what an estimate is made from.
type chemistry struct{ ph, kh, temperature float64 }

// estimates are the last ones made: readings go to and fro between a few values.
type estimates [64]estimate

type estimate struct {
	in  chemistry
	co2 float64 // 0: the chemistry does not reach there
}

// co2 is the estimate, looked for in the one place that its pH and temperature give.
func (es *estimates) co2(in chemistry) float64 {
	const odd = 0x9e3779b97f4a7c15 // 2^64 by the golden ratio: it spreads what differs in few bits
	e := &es[(math.Float64bits(in.ph)+math.Float64bits(in.temperature)*odd)*odd>>58]
	if e.in == in {
		return e.co2
	}
	*e = estimate{in: in}
	if system, err := water.At(water.Celsius(in.temperature)); err == nil {
		if co2, err := system.CO2(water.PH(in.ph), water.DegreeKH(in.kh)); err == nil {
			e.co2 = float64(co2)
		}
	}
	return e.co2
}

// evidence is the pH, its trend and what is known besides.
func (g *gas) evidence(v *view, t *tank) aquarium.Evidence {
	e := aquarium.Evidence{Sensor: g.part.PH, Value: g.value, Unit: "pH", PerHour: t.perHour(g.ph, v.now), HarmIn: g.harmIn(v, t), Facts: g.facts(v, t)}
	if bound := t.config.Limits.CO2; bound > 0 && g.co2 > 0 && t.config.Substrate != aquarium.Active {
		e.Facts = append(e.Facts, num(FactBound, bound, "mg/l"))
	}
	return e
}

// estimated is the CO2 against the tank's bound, its trend and what is known
// besides. CO2 goes with 10^-pH, so that it rises by its own share of the pH's
// fall times ln 10.
func (g *gas) estimated(v *view, t *tank, bound float64) aquarium.Evidence {
	e := aquarium.Evidence{Sensor: g.part.PH, Value: g.co2, Unit: "mg/l", Limit: of(bound), HarmIn: g.harmIn(v, t),
		Facts: append(g.facts(v, t), num(FactPH, g.value, "pH"))}
	if p := t.perHour(g.ph, v.now); p != nil {
		e.PerHour = of(-math.Ln10 * g.co2 * *p)
	}
	return e
}

// harmIn is how many minutes it takes until the CO2 passes the tank's bound, or the
// pH its lower one, whichever is first, if the gas goes on coming as it does; 0: it
// has. It is nil where neither is known or the pH does not fall. What leaves the
// water the more the more there is puts it off, and where it comes to rest before,
// for ever: that shows as the trend goes, and nobody is told of too much time.
func (g *gas) harmIn(v *view, t *tank) *float64 {
	hours := math.Inf(1)
	p := t.perHour(g.ph, v.now)
	falls := 0.0
	if p != nil {
		falls = max(0, -*p)
	}
	if bound := t.config.Limits.CO2; bound > 0 && g.co2 > 0 && t.config.Substrate != aquarium.Active {
		hours = gasTo(math.Log10(bound/g.co2), falls)
	}
	if r := t.config.Limits.PH; r != nil {
		hours = min(hours, gasTo(g.value-r.Lo, falls))
	}
	if math.IsInf(hours, 1) {
		return nil
	}
	return of(hours * 60)
}

// gasTo is how many hours a pH takes down a way that falls at that speed now, by gas
// that comes steadily: CO2 goes with 10^-pH, so that the same gas moves it by less
// and less.
func gasTo(way, perHour float64) float64 {
	return hoursTo(math.Expm1(math.Ln10*way)/math.Ln10, perHour)
}

// hoursTo is how many hours a way takes at that speed; infinite: for ever.
func hoursTo(way, perHour float64) float64 {
	switch {
	case way <= 0:
		return 0
	case perHour < slowest:
		return math.Inf(1)
	}
	return way / perHour
}

// slowest is the least trend of a pH, per hour, that is one.
const slowest = 0.02

// sinceShut is how long dosing has been called off: as the valve was told, or, where
// nobody tells, as its hours or the pH say that it should have been.
func (t *tank) sinceShut(v *view) aquarium.Fact {
	name := FactShut
	if _, known := t.on(t.config.Equipment.CO2.Valve, v.now); !known {
		name = FactOver
	}
	return lasting(name, v.now.Sub(t.shutAt))
}

// swing is the controller's own: how far under its target the pH goes by itself
// rules it out.
func (g *gas) swing() aquarium.Excluded {
	return aquarium.Excluded{What: aquarium.LookControl, Because: num(FactUnder, g.part.Target-g.value, "pH")}
}

// lingering is how long after the valve shut, or its hours ended, what it let
// in may still show.
const lingering = time.Hour

// plausible reports whether dosing can be the reason for what the pH does: the
// valve is open or was within the hour; where nobody knows of a valve, the
// hours say so; or the pH is falling, which nothing else makes it do for long. Under
// its band it rises by itself as gas leaves the water: where it does not, an hour
// after the valve shut, some gas still comes.
func (g *gas) plausible(v *view, t *tank) bool {
	if _, known := t.on(g.part.Valve, v.now); known {
		if wasOn := t.sensor(g.part.Valve).wasOn; wasOn != 0 && v.now.Sub(wasOn) <= lingering {
			return true
		}
	} else if g.part.Hours == nil || g.part.Hours.Contains(t.clock) || g.part.Hours.Contains(earlier(t.clock, lingering)) {
		return true
	}
	p := t.perHour(g.ph, v.now)
	return p != nil && (*p < -0.1 || *p < leaves && g.part.Target > 0 && g.value < g.part.Target-g.part.Band)
}

// leaves is by what the pH rises at the least, an hour, while gas leaves water that
// has far more of it than the air gives: a tenth of it an hour is 0.04 pH, and display
// tanks lose two to six. Common practice, no source.
const leaves = 0.03

func earlier(c aquarium.Clock, d time.Duration) aquarium.Clock {
	return (c - aquarium.Clock(d.Minutes()) + 24*60) % (24 * 60)
}

// followValve remembers when dosing was called off: the valve commanded
// shut, or, where no switch tells, the end of the dosing hours or the lower end
// of the band.
func (t *tank) followValve(at aquarium.Instant) {
	part := t.config.Equipment.CO2
	if part == nil {
		return
	}
	off, since := false, at
	if on, known := t.parts.valve.isOn(at); known {
		off, since = !on, t.parts.valve.since
	} else if x := t.parts.valve; x != nil && len(x.points) > 0 {
		// Silent: what it last said goes on, until a controller that works opens it.
		if s := t.parts.acid; t.haveShut && s.current(at) && part.Target > 0 && s.value() > part.Target+part.Band &&
			(part.Hours == nil || part.Hours.Contains(t.clock)) {
			t.haveShut = false
		}
		return
	} else if part.Hours != nil && !part.Hours.Contains(t.clock) {
		off = true
	} else if s := t.parts.acid; s.current(at) {
		// Nobody tells, but a controller that works shut the valve under
		// its band; it may open again on the way to its target already.
		edge := part.Target - part.Band
		if t.haveShut {
			edge = part.Target
		}
		off = s.value() < edge
	}
	if !off {
		t.haveShut = false
		return
	}
	if t.haveShut && (since == at || since == t.shutAt) {
		return
	}
	t.haveShut, t.shutAt, t.shutFrom = true, since, 0
	if s := t.parts.acid; s.current(at) {
		t.shutFrom = s.value()
	}
}

// water is waterSeries, found once.
func (t *tank) water() *series { return t.warmth }

// waterSeries is the series of the tank's own water temperature: the heater's or the
// cooling's, else the first temperature that is not the room's.
func (t *tank) waterSeries() *series {
	e := t.config.Equipment
	if e.Heater != nil && t.sensor(e.Heater.Temperature) != nil {
		return t.sensor(e.Heater.Temperature)
	}
	if e.Cooling != nil && t.sensor(e.Cooling.Temperature) != nil {
		return t.sensor(e.Cooling.Temperature)
	}
	for _, s := range t.order {
		if s.config.Quantity == aquarium.Temperature && (e.Room == nil || e.Room.Temperature != s.config.ID) {
			return s
		}
	}
	return nil
}

func blindCO2(t *aquarium.Tank) string {
	switch p := t.Equipment.CO2; {
	case p == nil:
		return "no co2 under equipment"
	case t.Sensor(p.PH) == nil:
		return "no pH sensor under co2"
	}
	return ""
}
