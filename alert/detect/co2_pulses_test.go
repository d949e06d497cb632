package detect

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// inPulses is a valve that is opened for so long of each period.
func inPulses(from, to, open, period time.Duration) string {
	s := "0m:0 "
	for at := from; at < to; at += period {
		s += fmt.Sprintf("%v:1 %v:0 ", at, at+open)
	}
	return s
}

// TestPulses: a controller that lets gas in by pulses asks for it all the while: its
// mornings are known, and gas that does not come is told.
func TestPulses(t *testing.T) {
	for _, x := range []struct{ from, open, period time.Duration }{
		{5 * h, 150 * time.Second, 3 * m},
		{5*h + 5*time.Second, 18 * time.Second, 30 * time.Second}, // and shut at each whole minute
	} {
		site := library()
		c := script{paths: calm(), every: 10 * time.Second, noise: 1, lasts: 7 * h}
		c.paths["ph"], c.paths["valve"] = "0h:7.3 5h:7.3 305m:7.28 365m:6.6 7h:6.6", inPulses(x.from, 365*m, x.open, x.period)
		w := New(site)
		ts := c.play(w, c.samples(t, site), 0, c.lasts)
		if got := w.tanks[0].dosing.morning; got.At == 0 || math.Abs(got.Plateau-7.3) > 0.01 || len(ts) > 0 {
			t.Errorf("of %v, a morning: %+v, want one from 7.3, and nothing told:%s", x.open, got, brief(ts))
		}
		c.paths["ph"], c.paths["valve"] = "0h:7.3", inPulses(x.from, 7*h, x.open, x.period)
		ts = c.run(t, site)
		if len(ts) != 1 || ts[0].Identity.Cause != aquarium.CO2NotDosing || ts[0].At > zero.Add(6*h) {
			t.Errorf("of %v, the cylinder is empty: want that within the hour:%s", x.open, brief(ts))
		}
	}
}

// TestPulsesLetRise: a controller that makes its pulses shorter under its target lets the pH
// rise to that, and the gas comes; past it none does.
func TestPulsesLetRise(t *testing.T) {
	for _, c := range []struct {
		ph   string
		want bool
	}{
		{"0h:7.3 3h:7.3 4h:6.55 5h:6.54 5h50m:6.59 9h:6.59", false},
		{"0h:7.3 3h:7.3 4h:6.55 5h:6.54 5h50m:6.59 7h:6.72 9h:6.9", true},
	} {
		site := library()
		s := script{paths: calm(), every: 10 * time.Second, noise: 0.3, lasts: 9 * h}
		s.paths["ph"], s.paths["valve"] = c.ph, inPulses(3*h, 9*h, 6*time.Second, 30*time.Second)
		w := New(site)
		k := &w.tanks[0].learned.Vigour // it holds the pH with a fifth of its time
		k.Duty, k.Duties = math.Log10(0.2), slices.Repeat([]float64{math.Log10(0.2)}, vigourLeast)
		w.tanks[0].learned.Through = zero
		told := slices.ContainsFunc(s.play(w, s.samples(t, site), 0, s.lasts), func(x aquarium.Transition) bool {
			return x.Event == aquarium.Raised && x.Identity.Cause == aquarium.CO2NotDosing
		})
		if told != c.want {
			t.Errorf("pH %s: told %v, want %v", c.ph, told, c.want)
		}
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
		{"slowly, and its probe is calibrated meanwhile", "0m:7 60m:7 80m:6.95 81m:7.05 240m:6.65", 7, false},
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

// TestShareOfPulses: pulses that are looked at less often than they come have no share that
// could be known, and a valve that is open for minutes has.
func TestShareOfPulses(t *testing.T) {
	for _, c := range []struct {
		period time.Duration
		want   float64
	}{{10 * m, 0.4}, {m, 0}} {
		var d duty
		for at := zero; at < zero.Add(4*h); at = at.Add(m) {
			begun := at.Floor(c.period)
			open := at.Sub(begun) < 4*m
			if open {
				d.follow(true, begun)
			} else {
				d.follow(false, begun.Add(4*m))
			}
		}
		got := 0.0
		if x := d.share(); x != 0 {
			got = math.Pow(10, x)
		}
		if math.Abs(got-c.want) > 0.02 {
			t.Errorf("opened each %v: a share of %.2f, want %.2f", c.period, got, c.want)
		}
	}
}
