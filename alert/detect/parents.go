package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// recovery is how long after mains is back a machine may still be on its way
// up: a canister filter that lost its prime needs minutes to run again. Common
// practice, no source.
const recovery = 5*time.Minute - 2*aquarium.Step // it is told by five minutes

// emptiedDepth is the share of the water's depth.
const emptiedDepth = 0.1

// parent is the cause that explains an identity now, or "".
func (w *Watch) parent(id aquarium.Identity, at aquarium.Instant) aquarium.Cause {
	if w.standingAt(id.Tank, aquarium.VisitUndeclared) && w.ofGuessedVisit(id) {
		return aquarium.VisitUndeclared
	}
	if w.bared(id) {
		return aquarium.WaterLoss
	}
	switch id.Cause {
	case aquarium.SensorSilent:
		if w.standing(aquarium.SiteSilent) {
			return aquarium.SiteSilent
		}
		if w.setAside(id) {
			return aquarium.GatewayClockWrong
		}
	case aquarium.SensorImplausible, aquarium.SensorStuck: // a step is more in a smaller unit, and refused
		if w.isTrue(aquarium.Identity{Site: id.Site, Tank: id.Tank, Cause: aquarium.UnitSuspect, Equipment: id.Equipment}) {
			return aquarium.UnitSuspect
		}
	case aquarium.ReservoirLow, aquarium.ReservoirNotRefilling: // what is stored is in the tank, or beside it
		if w.isTrue(aquarium.Identity{Site: id.Site, Tank: id.Tank, Cause: aquarium.TopOffRunaway, Equipment: "top_off"}) {
			return aquarium.TopOffRunaway
		}
	case aquarium.TopOffFailed:
		for _, p := range []aquarium.Identity{
			{Site: id.Site, Tank: id.Tank, Cause: aquarium.WaterChangeIncomplete, Equipment: "water_change"},
			{Site: id.Site, Tank: id.Tank, Cause: aquarium.WaterLoss},
		} {
			if w.isTrue(p) {
				return p.Cause
			}
		}
		if w.stoppedWith(id) {
			return aquarium.FilterStalled
		}
	case aquarium.FilterStalled:
		if w.stalledBeside(id) {
			return aquarium.FilterStalled
		}
		if w.drained(id) {
			return aquarium.WaterLoss
		}
		return w.unpowered(id, at)
	case aquarium.CO2NotDosing:
		if w.stoppedWith(id) { // gas gets into the water in their stream
			return aquarium.FilterStalled
		}
		return w.unpowered(id, at)
	case aquarium.HeaterNotHeating, aquarium.LightsNotOn, aquarium.DrainPumpFailed:
		return w.unpowered(id, at)
	}
	return ""
}

// unpowered is the want of mains that explains an identity, or "".
func (w *Watch) unpowered(id aquarium.Identity, at aquarium.Instant) aquarium.Cause {
	if w.mains.lost || w.mains.back != 0 && at.Sub(w.mains.back) < recovery || w.standing(aquarium.PowerLost) {
		return aquarium.PowerLost
	}
	if t := w.places[id.Tank]; t != nil && t.dark(w, at) {
		return aquarium.TankPowerLost
	}
	return ""
}

// ofGuessedVisit reports whether an identity is what the guessed visit that stands
// explains.
func (w *Watch) ofGuessedVisit(id aquarium.Identity) bool {
	if s := w.states[id]; s != nil && s.last.beyond {
		return false
	}
	return id.Cause.OutOfServiceOnVisit() && (id.Cause == aquarium.FilterStalled || !w.stopAlone(id.Tank))
}

// setAside reports whether a sensor has fallen silent because a gateway's clock is
// wrong: what it sends is set aside since about the last that came of the sensor.
func (w *Watch) setAside(id aquarium.Identity) bool {
	s := w.series(aquarium.SensorKey{Site: id.Site, Tank: id.Tank, Sensor: aquarium.SensorID(id.Equipment)})
	if s == nil {
		return false
	}
	for _, c := range w.own[w.ranks[aquarium.GatewayClockWrong]] {
		if c.stands && s.heard >= c.since.Add(-s.patience()) {
			return true
		}
	}
	return false
}

// bared reports whether what the tank's pH tells is explained by water that is gone, by
// whatever name: its electrode and filters are in the air, or the top-off thins what is
// left, until the water is back.
func (w *Watch) bared(id aquarium.Identity) bool {
	t := w.places[id.Tank]
	return t != nil && t.emptied() && t.ofPH(id) && w.isTrue(aquarium.Identity{Site: id.Site, Tank: id.Tank, Cause: aquarium.WaterLoss})
}

// emptied reports whether so much water is known to be gone that the pH says nothing of
// the gas: what is left turns and gives off less, and what the top-off brings instead
// has no alkalinity. A tenth of the depth is more than any top-off lets go by. A level
// that falls silent then is as low as it was.
func (t *tank) emptied() bool {
	fill := 10 * t.config.Size.FillCM
	return fill > 0 && t.level != nil && len(t.level.points) > 0 && t.level.value() < -emptiedDepth*fill
}

// ofPH reports whether an identity is told by the tank's pH.
func (t *tank) ofPH(id aquarium.Identity) bool {
	switch id.Cause {
	case aquarium.CO2ValveStuck, aquarium.CO2Overshoot, aquarium.CO2NotDosing, aquarium.PHProbeDrift,
		aquarium.PHFalling, aquarium.PHLow, aquarium.PHHigh:
		return true
	case aquarium.SensorImplausible, aquarium.SensorStuck:
		return t.pH != nil && string(id.Equipment) == string(t.pH.config.ID)
	}
	return false
}

// stalledBeside reports whether another filter of the tank is told already that
// stopped with this one: it is one trouble, and the one alarm says that none runs.
func (w *Watch) stalledBeside(id aquarium.Identity) bool {
	own := w.states[id]
	if own == nil {
		return false
	}
	for _, s := range w.order {
		if s.id.Cause == aquarium.FilterStalled && s.id.Tank == id.Tank && s != own && s.stands && s.shown == raised && s.since.Sub(own.since).Abs() <= together {
			return true
		}
	}
	return false
}

// hoseOff is how closely a filter stops to when water begins to leave for that to be
// one trouble: a hose that has come off, or hands. What is told of the water has
// somebody go there at once; that the filter stands is in its evidence, and is told
// if the water has stopped leaving and it still stands.
const hoseOff = 10 * time.Minute

// drained reports whether it is told that water leaves since about when a filter
// stopped.
func (w *Watch) drained(id aquarium.Identity) bool {
	own, loss := w.states[id], w.states[aquarium.Identity{Site: id.Site, Tank: id.Tank, Cause: aquarium.WaterLoss}]
	return own != nil && loss != nil && loss.stands && loss.shown == raised && own.since.Sub(loss.since).Abs() <= hoseOff
}

// stoppedWith reports whether it is told that no filter of the tank runs, since before
// an identity became true: a hand or a fuse has stopped more than filters, one high
// alarm has somebody look, and what is still so once a filter runs is told then.
func (w *Watch) stoppedWith(id aquarium.Identity) bool {
	own, t := w.states[id], w.places[id.Tank]
	if own == nil || t == nil || t.pauses.from == 0 || own.since < t.pauses.from {
		return false
	}
	for _, s := range w.order {
		if s.id.Cause == aquarium.FilterStalled && s.id.Tank == id.Tank && s.stands && s.shown == raised {
			return true
		}
	}
	return false
}

// powered rules a want of mains out, where somebody tells of it.
func (t *tank) powered(v *view) []aquarium.Excluded {
	if !v.w.mains.known || v.w.mains.lost || t.dark(v.w, v.now) {
		return nil
	}
	return []aquarium.Excluded{{What: aquarium.LookPower, Because: word(FactMains, "on")}}
}

// dark reports whether the tank alone is without mains, or got it back a short
// while ago.
func (t *tank) dark(w *Watch, at aquarium.Instant) bool {
	for _, s := range t.states[w.unlit] {
		if s.stands {
			return true
		}
	}
	return t.darkWithin(at, recovery)
}

// darkWithin reports whether the tank's mains is off, or was so short a while ago.
func (t *tank) darkWithin(at aquarium.Instant, ago time.Duration) bool {
	p := t.config.Equipment.Power
	if p == nil {
		return false
	}
	s := t.parts.mains
	return s.current(at) && (!s.on || at.Sub(s.cameOn()) < ago)
}

// standing reports whether a cause stands that is about the whole site.
func (w *Watch) standing(c aquarium.Cause) bool { return w.standingAt("", c) }

// standingAt is the same of a cause about a tank as a whole.
func (w *Watch) standingAt(tank aquarium.TankID, c aquarium.Cause) bool {
	return w.isTrue(aquarium.Identity{Site: w.site.ID, Tank: tank, Cause: c})
}

// isTrue reports whether that very identity stands.
func (w *Watch) isTrue(id aquarium.Identity) bool {
	s := w.states[id]
	return s != nil && s.stands
}

// mains follows whether the site has it.
type mains struct {
	known, lost bool
	since       aquarium.Instant // of the loss
	back        aquarium.Instant // when it last came back; 0: it never was away
}

// follow asks gateways and tanks apart: a site is without mains when each
// gateway that can tell says so, and also when every tank with a mains sensor
// is dark, whatever socket the gateway hangs on.
func (m *mains) follow(v *view) {
	gateways, tanks := mainsCount{lately: math.MaxInt64}, mainsCount{lately: math.MaxInt64}
	for _, s := range v.w.mainsAll {
		if s.key.Tank == aquarium.SiteWide {
			gateways.take(s, v.now)
		} else {
			tanks.take(s, v.now)
		}
	}
	if gateways.lit+gateways.dark+tanks.lit+tanks.dark == 0 {
		m.known = false // what was so stays so: silence is not normal
		return
	}
	m.known = true
	lost, since := false, aquarium.Instant(0)
	if gateways.lit > 0 && tanks.dark == 1 {
		tanks = mainsCount{} // a breaker of one tank's, and no site that is dark
	}
	for _, c := range []mainsCount{gateways, tanks} {
		if c.dark > 0 && c.lit == 0 {
			lost, since = true, max(since, c.since)
		}
	}
	if m.lost && !lost { // it may have been back for as long as a reading takes
		m.back = min(v.now, max(m.since, min(gateways.lately, tanks.lately)))
	}
	if lost && !m.lost {
		m.since = since
	}
	m.lost = lost
}

// mainsCount is how many places have mains, and how many have not and since
// when.
type mainsCount struct {
	lit, dark int
	since     aquarium.Instant
	lately    aquarium.Instant // when the first may have been lit again
}

func (c *mainsCount) take(s *series, at aquarium.Instant) {
	switch {
	case !s.current(at):
	case s.on:
		c.lit++
		c.lately = min(c.lately, s.since.Add(-s.interval()))
	default:
		c.dark++
		c.since = max(c.since, s.since)
	}
}
