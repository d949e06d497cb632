package sim

import (
	"math"

	"lentic/collector/aquarium"
)

// Common practice, no source: dosing pumps of 50 ml a minute, ten minutes apart
// in the morning, on long enough to be seen at a reading a minute.
const (
	doserMLPerMinute = 50.0
	firstDose        = aquarium.Clock(9 * 60)
	doseApart        = aquarium.Clock(10)
	shortestDose     = 2.0 // minutes
)

// doser is one dosing pump; what it doses changes nothing here.
type doser struct {
	span aquarium.Span
	on   bool // commanded
	dead bool // never commanded any more
}

func newDosers(tank aquarium.Tank) []doser {
	ds := make([]doser, len(tank.Equipment.Dosers))
	for i, d := range tank.Equipment.Dosers {
		from := (firstDose + aquarium.Clock(i)*doseApart) % (24 * 60)
		minutes := max(shortestDose, math.Ceil(d.MLPerDay/doserMLPerMinute))
		ds[i].span = aquarium.Span{From: from, To: (from + aquarium.Clock(minutes)) % (24 * 60)}
	}
	return ds
}

func (t *Tank) stepDosers() {
	for i := range t.dosers {
		t.dosers[i].on = !t.trouble.dark && !t.dosers[i].dead && t.dosers[i].span.Contains(t.hour.clock)
	}
}
