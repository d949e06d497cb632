package sim

import (
	"math"
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// Step is the length of one step of the physics.
const Step = aquarium.Step

// warmUp is run through before Start, so that a tank is in its daily round.
const warmUp = 24 * time.Hour

// Options say which of the many tanks of one configuration it is.
type Options struct {
	Seed  uint64
	Start aquarium.Instant // zero is 1970
	// Faults are planned by their own times; several may overlap.
	Faults []Planned
	// Bare leaves out what lives: nothing breathes and nothing grows.
	Bare bool
	// Life is what people, weather and time do to a healthy tank; without
	// it the tank is left alone in an even room.
	Life bool
	// Visits are made to it.
	Visits []Visit
	// Steps are how far apart two values of a level sensor are, mm; 0: as usual.
	Steps float64
}

// Tank is one pretend tank. It belongs to one goroutine at a time.
type Tank struct {
	site   aquarium.SiteID
	tank   aquarium.Tank
	loc    *time.Location
	bare   bool
	life   *life
	faults []Planned
	visits []Planned // what they are made of
	daily  []Planned // what the present day brings

	at       aquarium.Instant // asked for
	stepped  aquarium.Instant // the physics has got here
	planned  aquarium.Instant // trouble was brought up to date
	nextPlan aquarium.Instant
	trouble  trouble
	hour     hour

	room      room
	carbon    carbon
	heat      heat
	vessel    vessel
	filters   []filter
	reservoir reservoir
	waste     waste
	change    change
	dosers    []doser
	probes    []probe
}

// New is that tank at Options.Start, after a day of running in. A nil location
// means UTC. Sizes the configuration does not give are taken to be those of a
// common tank of 120 x 60 x 50 cm. A fault that cannot be planned is a mistake
// of the program that plans it, and panics with what Planned.Check says.
func New(tank aquarium.Tank, site aquarium.SiteID, loc *time.Location, o Options) *Tank {
	check(tank, o.Faults)
	if tank.Size.NetL() <= 0 {
		tank.Size = aquarium.Size{LengthCM: 120, WidthCM: 60, FillCM: 50}
	}
	t := &Tank{site: site, tank: tank, loc: loc, bare: o.Bare, faults: append([]Planned(nil), o.Faults...)}
	own := func(name string) stream { return newStream(o.Seed, string(site), string(tank.ID), name) }
	t.at = o.Start
	t.stepped = o.Start.Add(-warmUp).Floor(Step)
	t.planned, t.nextPlan = math.MinInt64, math.MinInt64
	t.room = newRoom(own)
	t.vessel = newVessel(tank, own)
	t.heat = newHeat(tank)
	t.filters = newFilters(tank, own)
	t.carbon = newCarbon(tank, t.vessel.litres, own)
	t.reservoir = newReservoir(tank, own)
	t.waste = newWaste(tank, own)
	t.dosers = newDosers(tank)
	t.probes = newProbes(tank, site, o.Steps, own)
	for _, v := range o.Visits {
		t.visits = append(t.visits, v.deeds(tank, own)...)
	}
	if o.Life {
		t.life = newLife(t, own)
	}
	t.run(o.Start)
	t.vessel.account = Account{}
	return t
}

// With is another tank that is as this one is now, with more planned for it:
// what it says from now on differs by that alone. A fault that cannot be planned
// panics as it does with New.
func (t *Tank) With(more ...Planned) *Tank {
	check(t.tank, more)
	c := *t
	c.faults = append(slices.Clone(t.faults), more...)
	c.visits, c.daily = slices.Clone(t.visits), slices.Clone(t.daily)
	c.filters, c.dosers, c.probes = slices.Clone(t.filters), slices.Clone(t.dosers), slices.Clone(t.probes)
	if t.life != nil {
		l := *t.life
		c.life = &l
	}
	c.nextPlan = t.stepped
	return &c
}

func check(tank aquarium.Tank, ps []Planned) {
	for _, p := range ps {
		if err := p.Check(tank); err != nil {
			panic("sim: " + err.Error())
		}
	}
}

// Advance takes the tank to that instant; an earlier one than it has reached
// changes nothing.
func (t *Tank) Advance(to aquarium.Instant) {
	if to <= t.at {
		return
	}
	t.at = to
	t.run(to)
}

// run takes the physics in whole Steps up to the last one not after to.
func (t *Tank) run(to aquarium.Instant) {
	for t.stepped.Add(Step) <= to {
		t.stepped = t.stepped.Add(Step)
		if t.life != nil {
			t.liveOn()
		}
		t.plan(t.stepped)
		t.step()
	}
}

// step is the physics of one Step. What is slow goes by the minute.
func (t *Tank) step() {
	if t.hour.turn(t.stepped, t.loc) {
		t.stepRoom()
		t.stepDaily()
	}
	t.stepFilters()
	t.stepReservoir()
	t.stepVessel()
	t.stepChange()
	t.stepWaste()
	t.stepHeat()
	t.stepCarbon()
	t.stepDosers()
}

// Mains reports whether the site has mains, as its gateway sees it. A fuse of
// this tank alone, TankPowerCut, leaves it true.
func (t *Tank) Mains() bool { return !t.trouble.siteDark }

// At is the instant the tank has been taken to.
func (t *Tank) At() aquarium.Instant { return t.at }

// Readings are those of every sensor of the tank at the present instant, in the
// configuration's order, in each sensor's own unit. Silent ones are left out.
func (t *Tank) Readings() []aquarium.Reading {
	return t.AppendReadings(make([]aquarium.Reading, 0, len(t.probes)))
}

// AppendReadings is Readings appended to dst.
func (t *Tank) AppendReadings(dst []aquarium.Reading) []aquarium.Reading {
	if t.trouble.allSilent {
		return dst
	}
	for i := range t.probes {
		p := &t.probes[i]
		if p.silent {
			continue
		}
		v := p.held
		if !p.frozen {
			v = p.value(t, t.at)
		}
		dst = append(dst, aquarium.Reading{Sensor: p.key, At: t.at, Value: v, Unit: p.unit})
	}
	return dst
}
