package sim

import (
	"lentic/collector/aquarium"
	"lentic/collector/water"
)

// Common practice, no source.
const (
	defaultBandMM = 4.0
	defaultTopLH  = 60.0
	rimMM         = 45.0 // the rim above the working mark
	driesLH       = 0.1  // what a wet floor loses
	wetL          = 0.2  // what makes the floor's sensor wet
	handTopUpMM   = -20  // a tank without a pump is filled up by hand below
	handTopUpAt   = aquarium.Clock(9 * 60)
	intakeShare   = 0.33 // of the water is above the filters' intakes
	leastShare    = 0.05 // of the water never leaves, so that sums stay sums
)

// Account is where the water went since Start, in litres: what is in the tank
// has changed by In less all the others.
type Account struct {
	In         float64 // top-off, siphon, by hand, water change
	Evaporated float64
	Spilled    float64 // over the rim
	Leaked     float64
	Changed    float64 // taken out by water changes
}

// vessel is the tank's water as a volume.
type vessel struct {
	litres, perMM, netL float64
	evaporationLH       float64
	topping             bool // the pump's command
	puddle              float64
	stuckMM             float64 // where the float hangs
	intakeL             float64 // what is left when the intakes are dry
	waves               stream
	account             Account
}

func newVessel(tank aquarium.Tank, own func(string) stream) vessel {
	v := vessel{perMM: tank.Size.LitresPerMM(), netL: tank.Size.NetL(), waves: own("waves")}
	v.intakeL = (1 - intakeShare) * v.netL
	v.litres = v.netL + own("level").between(-3, 3)*v.perMM
	return v
}

func (v *vessel) levelMM() float64 { return (v.litres - v.netL) / v.perMM }

// stepVessel lets water in and out.
func (t *Tank) stepVessel() {
	v, s := &t.vessel, &t.trouble
	t.commandTopOff()
	in := 0.0
	if v.topping && !s.topOffDead && !s.dark {
		in = t.topOffLH() * s.topOffShare * stepHours
	}
	in = t.draw(in + s.siphonLH*stepHours)
	v.litres += in
	v.account.In += in

	out := v.evaporationLH * stepHours
	v.account.Evaporated += t.lose(out)
	t.stepHands()
	lost := s.leakLH
	if !s.dark && v.litres > v.intakeL {
		lost += s.burstLH
	}
	t.carbon.alkalinity -= lost * stepHours * t.alkalinityPerL()
	leak := t.lose(lost * stepHours)
	v.account.Leaked += leak
	v.puddle += leak
	if over := v.litres - v.netL - rimMM*v.perMM; over > 0 {
		t.carbon.alkalinity -= over * t.alkalinityPerL()
		v.litres -= over
		v.account.Spilled += over
		v.puddle += over
	}
	v.puddle = max(0, v.puddle-driesLH*stepHours)
}

// lose takes litres out as far as there are any, and says how many.
func (t *Tank) lose(litres float64) float64 {
	litres = max(0, min(litres, t.vessel.litres-leastShare*t.vessel.netL))
	t.vessel.litres -= litres
	return litres
}

func (t *Tank) alkalinityPerL() float64 { return t.carbon.alkalinity / t.vessel.litres }

// draw takes litres from what the top-off pump draws on, as far as there are
// any; a pump without a reservoir hangs on a line that does not run dry.
func (t *Tank) draw(litres float64) float64 {
	top, r := t.tank.Equipment.TopOff, t.tank.Equipment.Reservoir
	if r == nil || top != nil && top.From != "" && top.From != r.Volume {
		return litres
	}
	litres = min(litres, t.reservoir.litres)
	t.reservoir.litres -= litres
	return litres
}

func (t *Tank) topOffLH() float64 {
	switch e := t.tank.Equipment.TopOff; {
	case t.trouble.runaway && t.trouble.runawayLH > 0:
		return t.trouble.runawayLH
	case e != nil && e.RateLH > 0:
		return e.RateLH
	}
	return defaultTopLH
}

func (t *Tank) bandMM() float64 {
	if e := t.tank.Equipment.TopOff; e != nil && e.BandMM > 0 {
		return e.BandMM
	}
	return defaultBandMM
}

// commandTopOff runs the pump from the band's lower end to its upper one, and
// not while a water change empties the tank on purpose.
func (t *Tank) commandTopOff() {
	v := &t.vessel
	switch mm := t.sensedMM(); {
	case t.trouble.dark || t.trouble.topOffOff || t.tank.Equipment.TopOff == nil:
		v.topping = false
	case t.trouble.runaway:
		v.topping = true
	case t.change.stage != idle || mm > t.bandMM():
		v.topping = false
	case mm < -t.bandMM():
		v.topping = true
	}
}

// stepHands lets out and in what people do.
func (t *Tank) stepHands() {
	v, s := &t.vessel, &t.trouble
	if s.outLH > 0 {
		t.carbon.alkalinity -= s.outLH * stepHours * t.alkalinityPerL()
		v.account.Changed += t.lose(s.outLH * stepHours)
	}
	in := s.pourLH * stepHours
	if s.inLH > 0 {
		in += max(0, min(s.inLH*stepHours, v.netL-v.litres))
	}
	if in == 0 {
		return
	}
	t.heat.temperature += (t.room.tap - t.heat.temperature) * in / (v.litres + in)
	t.carbon.alkalinity += in * t.suppliedMeq()
	v.litres += in
	v.account.In += in
}

// sensedMM is the level that the top-off goes by.
func (t *Tank) sensedMM() float64 {
	if t.trouble.levelStuck {
		return t.vessel.stuckMM
	}
	return t.vessel.levelMM() + t.trouble.levelSlipped
}

// readMM is the level as its sensor has it, waves included.
func (t *Tank) readMM() float64 {
	if t.trouble.wavesMM == 0 {
		return t.sensedMM()
	}
	return t.sensedMM() + t.trouble.wavesMM*t.vessel.waves.normal(t.at)
}

// stepDaily is what goes by the minute: the slow sums, and the hand that fills
// up a tank without a pump.
func (t *Tank) stepDaily() {
	v := &t.vessel
	v.evaporationLH = t.evaporation()
	if t.life != nil {
		t.age()
	}
	if s, err := water.At(water.Celsius(t.heat.temperature)); err == nil {
		t.carbon.system = s
	}
	if t.tank.Equipment.TopOff == nil && t.hour.clock == handTopUpAt && v.levelMM() < handTopUpMM {
		missing := v.netL - v.litres
		v.litres += missing
		v.account.In += missing
	}
}
