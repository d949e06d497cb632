package detect_test

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/sim"
)

// TestNightless: of a tank that doses day and night, an electrode that drifts and
// alkalinity that is lost are told by the time they have come to 0.2 pH, where the valve's
// switch tells, and by 0.25 where the pH alone does; a cylinder at its end is told by its
// own name.
func TestNightless(t *testing.T) {
	const d = 24 * time.Hour
	for _, c := range []struct {
		name   string
		blind  bool
		fault  sim.Fault
		by     float64
		cause  aquarium.Cause
		within time.Duration
	}{
		{"reads high", false, sim.PHDrift, 0.05, aquarium.PHProbeDrift, 4 * d},
		{"reads high, and no switch tells", true, sim.PHDrift, 0.05, aquarium.PHProbeDrift, 5 * d},
		{"loses its alkalinity", false, sim.KHCrash, 0.4, aquarium.PHProbeDrift, 89 * time.Hour},
		{"its cylinder is empty", false, sim.CO2CylinderEmpty, 0, aquarium.CO2NotDosing, 3 * time.Hour},
	} {
		t.Run(c.name, func(t *testing.T) {
			inside := tank()
			co2 := *inside.Equipment.CO2
			co2.Hours, co2.Target = nil, 6.7
			inside.Equipment.CO2 = &co2
			seen := inside
			if c.blind {
				seen = blinded(inside)
			}
			from := start.Add(8*d + 6*time.Hour)
			l := life{seen: seen, inside: inside, seed: 520, every: time.Minute, lasts: 8*d + 6*time.Hour + c.within,
				faults: []sim.Planned{{Fault: c.fault, At: from, Strength: c.by}}}
			ts := l.play()
			for _, x := range ts {
				if x.Event == aquarium.Raised && x.Identity.Cause != aquarium.Unusual && (x.Identity.Cause != c.cause || x.At < from) {
					t.Errorf("also told:%s", say([]aquarium.Transition{x}))
				}
			}
			for _, x := range ts {
				if x.Event == aquarium.Raised && x.Identity.Cause == c.cause {
					t.Logf("told after %v:%s", x.At.Sub(from), say([]aquarium.Transition{x}))
					return
				}
			}
			t.Errorf("not told within %v:%s", c.within, say(ts))
		})
	}
}
