package detect

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestClockDoses: gas that a clock lets in from eight to five brings the pH down as far
// as it goes and holds it there; it is told when it does not come, and when it ends.
func TestClockDoses(t *testing.T) {
	for _, c := range []struct {
		name, ph string
		want     []want
	}{
		{"it comes", "0m:7.6 480m:7.6 540m:7.1 600m:6.9 660m:6.83 720m:6.8 1020m:6.84 1200m:7.3 1440m:7.5", nil},
		{"it does not", "0m:7.6 1440m:7.6", []want{{event: raisedNow, cause: aquarium.CO2NotDosing, equipment: "co2", after: 510 * m, by: 540 * m}}},
		{"it ends at noon", "0m:7.6 480m:7.6 540m:7.1 600m:6.9 660m:6.83 720m:6.8 840m:7.05 960m:7.2",
			[]want{{event: raisedNow, cause: aquarium.CO2NotDosing, equipment: "co2", after: 740 * m, by: 780 * m}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			site := library()
			site.Tanks[0].Equipment.CO2.Target, site.Tanks[0].Equipment.CO2.Band = 0, 0
			s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 16 * h}
			s.paths["ph"], s.paths["valve"] = c.ph, "0m:0 480m:1 1020m:0"
			check(t, s.run(t, site), c.want)
		})
	}
}
