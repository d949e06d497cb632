package sim

import (
	"lentic/collector/aquarium"
	"lentic/collector/water"
)

// changeLH is the rate of an automatic water change: common practice, no
// source.
const changeLH = 240.0

// dust is what rounding leaves of a volume: no step of its own is spent on it.
const dust = 1e-9 // l

// stage is how far an automatic water change has got.
type stage int

const (
	idle stage = iota
	emptying
	filling
)

// change is the automatic water change. New water has the alkalinity the
// configuration gives and comes from a supply of its own.
type change struct {
	stage   stage
	left    float64 // litres of this stage
	started aquarium.Instant
	stopped aquarium.Instant // half-way, and given up
	out     float64          // litres taken out in this step
}

// stepChange begins at its times and waits where the mains is gone.
func (t *Tank) stepChange() {
	c, e := &t.change, t.tank.Equipment.WaterChange
	c.out = 0
	if e == nil || t.trouble.dark {
		return
	}
	litres := min(changeLH*stepHours, c.left)
	v := &t.vessel
	switch c.stage {
	case idle:
		if t.changeDue(e) {
			*c = change{stage: emptying, left: e.Litres, started: t.hour.minute}
		}
	case emptying:
		t.carbon.alkalinity -= litres * t.alkalinityPerL()
		c.out = t.lose(litres)
		v.account.Changed += c.out
		if c.left -= litres; c.left <= dust {
			c.stage, c.left = filling, e.Litres
		}
		if t.trouble.changeStopped && c.stage == filling {
			c.stage, c.stopped = idle, t.stepped
		}
	case filling:
		v.litres += litres
		v.account.In += litres
		t.carbon.alkalinity += litres * t.suppliedMeq()
		if c.left -= litres; c.left <= dust {
			c.stage = idle
		}
	}
}

func (t *Tank) changeDue(e *aquarium.WaterChange) bool {
	if e.Litres <= 0 || t.change.started == t.hour.minute {
		return false
	}
	for _, w := range e.At {
		if (w.Daily || w.Day == t.hour.day) && w.At == t.hour.clock {
			return true
		}
	}
	return false
}

func (t *Tank) suppliedMeq() float64 {
	return float64(water.DegreeKH(suppliedDKH(t.tank)).MeqPerL())
}

// suppliedDKH is the alkalinity of new water.
func suppliedDKH(tank aquarium.Tank) float64 {
	if tank.AlkalinityDKH > 0 {
		return tank.AlkalinityDKH
	}
	return defaultDKH
}
