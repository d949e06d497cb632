package detect

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// inPulses is a valve that is opened for two and a half minutes of each three.
func inPulses(from, to time.Duration) string {
	s := "0m:0 "
	for at := from; at < to; at += 3 * m {
		s += fmt.Sprintf("%v:1 %v:0 ", at, at+150*time.Second)
	}
	return s
}

// TestPulses: a controller that lets gas in by pulses asks for it all the while: its
// mornings are known, and gas that does not come is told.
func TestPulses(t *testing.T) {
	site := library()
	c := script{paths: calm(), every: 10 * time.Second, noise: 1, lasts: 7 * h}
	c.paths["ph"], c.paths["valve"] = "0h:7.3 5h:7.3 305m:7.28 365m:6.6 7h:6.6", inPulses(5*h, 365*m)
	w := New(site)
	ts := c.play(w, c.samples(t, site), 0, c.lasts)
	if got := w.tanks[0].dosing.morning; got.At == 0 || math.Abs(got.Plateau-7.3) > 0.01 || len(ts) > 0 {
		t.Errorf("a morning: %+v, want one from 7.3, and nothing told:%s", got, brief(ts))
	}
	c.paths["ph"], c.paths["valve"] = "0h:7.3", inPulses(5*h, 7*h)
	ts = c.run(t, site)
	if len(ts) != 1 || ts[0].Identity.Cause != aquarium.CO2NotDosing || ts[0].At > zero.Add(6*h) {
		t.Errorf("the cylinder is empty: want that within the hour:%s", brief(ts))
	}
}

// TestKeptDownByGas: gas that comes and no longer suffices to bring the pH to its target,
// for its electrode reads high, is not said not to arrive.
func TestKeptDownByGas(t *testing.T) {
	for _, c := range []struct {
		name  string
		ph    string
		night float64 // 0: not known
		want  bool
	}{
		{"it rests over its target", "0m:7.3 60m:7.3 80m:7 110m:6.8 150m:6.73 240m:6.72", 7.3, false},
		{"the same, and no night is known", "0m:7.3 60m:7.3 80m:7 110m:6.8 150m:6.73 240m:6.72", 0, true},
		{"it rises again", "0m:7.3 60m:7.3 80m:7 110m:6.8 150m:6.73 240m:6.85", 7.3, true},
		{"it rests where the night left it", "0m:7.3 60m:7.3 80m:7.22 240m:7.21", 7.3, true},
	} {
		site := library()
		s := script{paths: calm(), every: 10 * time.Second, noise: 1, lasts: 4 * h}
		s.paths["ph"], s.paths["valve"] = c.ph, "0m:0 60m:1"
		w := New(site)
		w.tanks[0].doubt.night = c.night
		ts := s.play(w, s.samples(t, site), 0, s.lasts)
		told := slices.ContainsFunc(ts, func(x aquarium.Transition) bool {
			return x.Event == aquarium.Raised && x.Identity.Cause == aquarium.CO2NotDosing
		})
		if told != c.want {
			t.Errorf("%s: told %v, want %v:%s", c.name, told, c.want, brief(ts))
		}
	}
}
