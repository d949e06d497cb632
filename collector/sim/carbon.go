package sim

import (
	"lentic/collector/aquarium"
	"lentic/collector/water"
)

// The rates below are common practice, no source: they give the round that
// keepers know, about pH 7.3 before dawn and the target within an hour or two
// of dosing.
const (
	defaultDKH = 4.0
	// mixing is how fast dosed gas is dissolved and carried round, and how
	// fast the electrode follows, each as a first-order lag in minutes.
	mixingMinutes    = 3.0
	electrodeMinutes = 1.0
	surgeHours       = 0.5
	leastMeqL        = 0.02 // of alkalinity, so that the pH stays defined
	leastPlants      = 0.5  // of a settled tank's, after every cut
	uptakeMgLH       = 3.5  // plants in full light with ample CO2
	halfUptakeMgL    = 5.0  // CO2 at which they take half of that
	// dissolved is the share of the dosed gas that reaches the water.
	dissolved = 0.85
	// Water without turning filters exchanges gas, and dissolves it, less.
	stillExchange  = 0.35
	stillDissolves = 0.3
	leastCO2       = 0.01 // mg/l, so that the pH stays defined
	mostCO2        = 2500
)

// carbon is the carbonate system of the tank. Of the dissolved carbon only CO2
// is followed: bicarbonate stays what the alkalinity says, and carbonate is
// nothing beside it below pH 8.5.
type carbon struct {
	co2, pending float64 // mg/l in the water, and mg/l dosed and not yet mixed
	alkalinity   float64 // meq in the whole tank
	ph           float64 // of the water
	electrode    float64 // what the electrode has come to
	offset       float64 // what a fault has it drifted by
	aged         float64 // what it has drifted by itself since it was calibrated
	open         bool    // the valve's command
	passes       float64 // times the normal flow that reaches the water now
	plants       float64 // times the uptake of a planted tank that has just settled
	cylinderKG   float64
	system       water.Carbonate

	exchangeH, breathMgLH, doseMgLH float64
}

// A cylinder as is common at such tanks; a tank takes some 60 g a day of it.
// Common practice, no source.
const (
	fullKG   = 6.0
	scarceKG = 2.0
)

func newCarbon(tank aquarium.Tank, litres float64, own func(string) stream) carbon {
	c := carbon{
		co2: 8, ph: 7.3, electrode: 7.3, plants: 1, cylinderKG: own("cylinder").between(scarceKG, fullKG),
		alkalinity: float64(water.DegreeKH(suppliedDKH(tank)).MeqPerL()) * litres,
		exchangeH:  own("exchange").between(0.23, 0.27),
		breathMgLH: own("breath").between(1.5, 1.8),
		doseMgLH:   own("dose").between(34, 42),
	}
	return c
}

// stepCarbon doses, exchanges gas with the room, lets plants and animals live,
// and reads off the pH.
func (t *Tank) stepCarbon() {
	c, s := &t.carbon, &t.trouble
	t.commandValve()
	turn := t.turning()
	c.passes = t.gas()
	dose := c.passes * c.doseMgLH * (stillDissolves + (1-stillDissolves)*turn)
	c.cylinderKG -= c.passes * c.doseMgLH * t.vessel.litres / dissolved * stepHours / 1e6
	c.pending += dose * stepHours
	mixed := c.pending * min(1, stepHours*60/mixingMinutes)
	c.pending -= mixed

	air, err := c.system.Air(t.room.co2)
	if err != nil {
		air = leastCO2
	}
	rate := -c.exchangeH * (stillExchange + (1-stillExchange)*turn) * (c.co2 - float64(air))
	if !t.bare {
		rate += c.breathMgLH
		if t.lit() {
			rate -= c.plants * uptakeMgLH * c.co2 / (c.co2 + halfUptakeMgL)
		}
	}
	c.co2 = min(mostCO2, max(leastCO2, c.co2+mixed+rate*stepHours))
	if s.khPerDay > 0 {
		c.alkalinity = max(leastMeqL*t.vessel.litres, c.alkalinity-float64(water.DegreeKH(s.khPerDay*stepDays).MeqPerL())*t.vessel.litres)
	}

	kh := water.MeqPerL(c.alkalinity / t.vessel.litres).DegreeKH()
	if ph, err := c.system.PH(water.MgPerL(c.co2), kh); err == nil {
		c.ph = float64(ph)
	}
	t.stepElectrode()
}

// gas is how many times the normal flow reaches the water.
func (t *Tank) gas() float64 {
	c, s := &t.carbon, &t.trouble
	flow := s.valveLeaks
	if c.open && !s.dark {
		flow = max(1, s.commandedOpen)
		if s.surge > 0 {
			flow *= 1 + (s.surge-1)*min(1, t.stepped.Sub(s.surgeFrom).Hours()/surgeHours)
		}
	}
	if s.stuckOpen > 0 {
		flow = s.stuckOpen // a valve that does not seat needs no mains
	}
	if s.blockedPerDay > 0 {
		flow *= max(0, 1-s.blockedPerDay*t.stepped.Sub(s.blockedFrom).Hours()/24)
	}
	if s.cylinderEmpty || s.gasShut || c.cylinderKG <= 0 || t.tank.Equipment.CO2 == nil {
		return 0
	}
	return flow
}

// commandValve is the controller: it goes by its electrode and its hours.
func (t *Tank) commandValve() {
	c, e := &t.carbon, t.tank.Equipment.CO2
	switch {
	case e == nil || t.trouble.dark || t.trouble.co2Off:
		c.open = false
	case t.trouble.commandedOpen > 0:
		c.open = true
	case e.Hours != nil && !e.Hours.Contains(t.hour.clock):
		c.open = false
	case t.measuredPH() > e.Target+e.Band:
		c.open = true
	case t.measuredPH() < e.Target-e.Band:
		c.open = false
	}
}

// trim leaves a share of the plants.
func (c *carbon) trim(left float64) { c.plants = max(leastPlants, c.plants*left) }

// lit reports whether the lights are on.
func (t *Tank) lit() bool {
	switch s := &t.trouble; {
	case s.dark || s.lightsOff:
		return false
	case s.lightsOn:
		return true
	case t.tank.Lights == nil:
		return aquarium.Span{From: 10 * 60, To: 18 * 60}.Contains(t.hour.clock)
	}
	return t.tank.Lights.Contains(t.hour.clock)
}
