package detect

import (
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestRisesOpen: a pH that rises within its band though the valve is open is told within
// the hour, where the valve usually holds it with less than half of its time: of a tank whose
// gas just makes up for what its plants take nothing is said, nor of a pH that rests.
func TestRisesOpen(t *testing.T) {
	const falls = "0m:6.63 55m:6.63 60m:6.63 90m:6.57 95m:6.565 "
	for _, c := range []struct {
		name  string
		ph    string
		share float64 // of the valve on other days; 0: not known
		want  bool
		valve string // as it is else, if empty
	}{
		{"it rises", falls + "155m:6.615 180m:6.635", 0.4, true, ""},
		{"it rises, and the valve is open for most of the time", falls + "155m:6.615 180m:6.635", 0.8, false, ""},
		{"it rises, and that is not known", falls + "155m:6.615 180m:6.635", 0, false, ""},
		{"it rises to its target, held there by pulses", falls + "155m:6.615 180m:6.635", 0.4, false, "0m:0 60m:1 " + inPulses(95*m, 3*h, 18*time.Second, 30*time.Second)[5:]},
		{"it rests", falls + "180m:6.565", 0.4, false, ""},
		{"its probe is calibrated", falls + "125m:6.565 126m:6.635 180m:6.625", 0.4, false, ""},
		{"it goes on falling slowly", falls + "180m:6.555", 0.4, false, ""},
	} {
		site := library()
		s := script{paths: calm(), every: 10 * time.Second, noise: 1, lasts: 3 * h}
		s.paths["ph"], s.paths["valve"] = c.ph, "0m:0 60m:1"
		if c.valve != "" {
			s.paths["valve"] = c.valve
		}
		w := New(site)
		var usual Vigour
		for range vigourLeast {
			if c.share > 0 {
				usual.takeDuty(math.Log10(c.share))
			}
		}
		w.Recall(&Learned{Tank: "atrium", Through: zero.Floor(day), Vigour: usual})
		var told time.Duration
		ts := s.play(w, s.samples(t, site), 0, s.lasts)
		for _, x := range ts {
			if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.CO2NotDosing {
				told = x.At.Sub(zero)
			}
		}
		if (told > 0) != c.want || told > 155*m {
			t.Errorf("%s: told after %v, want %v within an hour of 95m:%s", c.name, told, c.want, brief(ts))
		}
	}
}
