package main

import (
	"slices"
	"strings"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/sim"
)

// scenario is one row of the card.
type scenario struct {
	name   string
	causes []aquarium.Cause // any of them names it; none: nothing may be told
	also   []aquarium.Cause // what it truly leads to, and may be told besides
	by     deadline
	from   float64 // begins between these hours of the day
	to     float64
	lasts  time.Duration // looked at so long, or until its deadline is well past
	slow   bool          // takes weeks: a quarter of the seeds
	grades [3]grade
	visit  *sim.Visit // it is one, undeclared, and begins with the fault
	clock  bool       // the gateway's clock is wrong: readings are set aside
}

// grade is one strength, the mildest first.
type grade struct {
	says string
	plan func(at aquarium.Instant) []sim.Planned
}

// one plans a single fault for good.
func one(says string, f sim.Fault, strength float64) grade {
	return grade{says, func(at aquarium.Instant) []sim.Planned {
		return []sim.Planned{{Fault: f, At: at, Strength: strength}}
	}}
}

// on plans a fault of that filter or doser.
func on(id aquarium.EquipmentKey, says string, f sim.Fault, strength float64) grade {
	return grade{says, func(at aquarium.Instant) []sim.Planned {
		return []sim.Planned{{Fault: f, At: at, Strength: strength, Equipment: id}}
	}}
}

// of plans a fault of a sensor.
func of(id aquarium.SensorID, f sim.Fault, strength float64) grade {
	return grade{string(id), func(at aquarium.Instant) []sim.Planned {
		return []sim.Planned{{Fault: f, At: at, Strength: strength, Sensor: id}}
	}}
}

// with adds faults to a grade, from the same moment on.
func (g grade) with(f sim.Fault, strength float64) grade {
	return grade{g.says, func(at aquarium.Instant) []sim.Planned {
		return append(g.plan(at), sim.Planned{Fault: f, At: at, Strength: strength})
	}}
}

// calibrated lets somebody stand the electrode in two buffers first; it is off
// from when it is back in the tank.
func calibrated(says string, by float64) grade {
	return grade{says, func(at aquarium.Instant) []sim.Planned {
		first, second := at.Add(4*time.Minute), at.Add(8*time.Minute)
		return []sim.Planned{
			{Fault: sim.ProbeInBuffer, At: at, Until: first, Strength: 7},
			{Fault: sim.ProbeInBuffer, At: first, Until: second, Strength: 4},
			{Fault: sim.PHOffset, At: second, Strength: by},
		}
	}}
}

// during adds a fault that ends after d.
func (g grade) during(d time.Duration, f sim.Fault, strength float64) grade {
	return grade{g.says, func(at aquarium.Instant) []sim.Planned {
		return append(g.plan(at), sim.Planned{Fault: f, At: at, Until: at.Add(d), Strength: strength})
	}}
}

// kept restores what a keeper restores every other week, so that months show
// nothing but the fault.
func (g grade) kept() grade {
	return grade{g.says, func(at aquarium.Instant) []sim.Planned {
		ps := g.plan(at)
		for d := range 10 {
			ps = append(ps, sim.Planned{Fault: sim.KHRestored, At: at.Add(time.Duration(d) * 14 * day)})
		}
		return ps
	}}
}

func scenarios() []scenario {
	var all []scenario
	for _, part := range [][]scenario{gas(), water(), machines(), probes()} {
		all = append(all, part...)
	}
	return all
}

// chosen are those with one of the texts, parted by commas, in their name.
func chosen(only string) []scenario {
	var some []scenario
	for _, s := range scenarios() {
		if slices.ContainsFunc(strings.Split(only, ","), func(x string) bool { return strings.Contains(s.name, x) }) {
			some = append(some, s)
		}
	}
	return some
}

type causes = []aquarium.Cause
