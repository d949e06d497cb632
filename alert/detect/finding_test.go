package detect

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestComesAndGoes: what is true for two minutes and not for three, for six hours, is told
// twice at the most and over half an hour after the last time; what comes back after
// longer than a quarter of an hour is told each time, and over as soon as ever.
func TestComesAndGoes(t *testing.T) {
	for _, c := range []struct {
		name         string
		round        time.Duration // of which it is true for two minutes
		raised, most int
		over         time.Duration // after it was last true
	}{
		{"every five minutes", 5 * time.Minute, 2, 2, returnsOver},
		{"every half an hour", 30 * time.Minute, 12, 12, 2 * time.Minute},
		{"once", 6 * time.Hour, 1, 1, 2 * time.Minute},
	} {
		var s state
		raised := 0
		var last, ended aquarium.Instant
		for d := time.Duration(0); d < 8*time.Hour; d += aquarium.Step {
			now := zero.Add(d)
			is := d < 6*time.Hour && d%c.round < 2*time.Minute
			if is {
				last = now
			}
			stood := s.stands
			s.weigh(now, finding{true: is, on: time.Minute, off: 2 * time.Minute})
			switch {
			case s.stands && !stood:
				raised++
			case !s.stands && stood:
				ended = now
			}
		}
		if raised < c.raised || raised > c.most {
			t.Errorf("%s: told %d times, want %d to %d", c.name, raised, c.raised, c.most)
		}
		if got := ended.Sub(last); got < c.over || got > c.over+2*aquarium.Step {
			t.Errorf("%s: over after %v, want %v", c.name, got, c.over)
		}
	}
}

// TestSeldomLooked: what came back soon is over in its time too where its cause looks every
// ten minutes and says nothing between.
func TestSeldomLooked(t *testing.T) {
	var s state
	for d := time.Duration(0); d < 3*time.Hour; d += aquarium.Step {
		now := zero.Add(d)
		if d%(10*time.Minute) != 0 {
			s.unsure(now)
			continue
		}
		s.weigh(now, finding{true: d == 0 || d == 20*time.Minute})
		if want := d == 0 || d >= 20*time.Minute && d < time.Hour; s.stands != want {
			t.Errorf("after %v: stands %v, want %v", d, s.stands, want)
		}
	}
}
