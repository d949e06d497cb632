// Package sim pretends to be tanks: from a tank's configuration and a seed it
// works out what that tank's sensors would have said, healthy or with faults
// planned into it. It exists for the demonstration, for tests of everything
// that judges readings, and for a newcomer's first five minutes; no figure of
// it is a promise about a real tank.
//
//	tank := sim.New(configured, "quillmere-library", london, sim.Options{
//		Seed:   7,
//		Start:  start,
//		Faults: []sim.Planned{{Fault: sim.CO2StuckOpen, At: start.Add(6 * time.Hour)}},
//	})
//	for at := start; at < end; at = at.Add(time.Minute) {
//		tank.Advance(at)
//		readings = tank.AppendReadings(readings)
//	}
//
// What is simulated: the carbonate system with dosing under pH control, gas
// exchange with the room, plants that use CO2 in the light and everything that
// breathes; heat from heater, lights, pumps and room; evaporation, top-off from
// the reservoir, its refilling, the waste container, automatic water changes;
// filters that clog; probes with noise and resolution. A day before Start is
// run through first, so that a tank begins in its daily round.
//
// Without Options.Life that is all: an even room and nobody there. With it
// comes what a healthy tank lives with: filters stopped for feeding at about
// the same time on most days, splashes, gaps of up to five minutes, weekends,
// cold spells and heat waves, mains water that follows the season, plants that
// grow, alkalinity that is used up and filters that clog until somebody comes,
// an electrode that ages, stray readings, and the acids of a new tank for weeks
// after it was planted. Options.Visits are people at the tank, whom Habit can
// plan. Truth tells how all of it really is, so that whoever judges readings
// can be judged.
//
// The same configuration, seed and faults give the same readings at an instant
// however one gets there: the physics goes in whole Steps since the Unix
// epoch, and noise is a function of seed, sensor and instant. A Tank belongs to
// one goroutine at a time; different Tanks share nothing.
package sim
