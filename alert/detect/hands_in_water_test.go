package detect

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestSmallWaves: small waves at the stop of all filters are those of hands while people
// are there, by the site's hours or by day; else they are chance.
func TestSmallWaves(t *testing.T) {
	weekdays := aquarium.Week{{Span: aquarium.Span{From: 8 * 60, To: 18 * 60}, Days: [7]bool{time.Monday: true}}}
	sunday := zero.Floor(day)
	for sunday.In(time.UTC).Weekday() != time.Sunday {
		sunday = sunday.Add(day)
	}
	for _, c := range []struct {
		hours aquarium.Week
		day   time.Weekday
		clock aquarium.Clock
		hands bool
	}{
		{nil, time.Sunday, 2*60 + 30, false}, {nil, time.Sunday, 6*60 + 59, false}, {nil, time.Sunday, 7 * 60, true},
		{nil, time.Sunday, 12 * 60, true}, {nil, time.Monday, 18*60 + 59, true}, {nil, time.Monday, 19 * 60, false},
		{weekdays, time.Sunday, 12 * 60, false}, {weekdays, time.Monday, 6*60 + 59, false}, {weekdays, time.Monday, 7 * 60, true},
		{weekdays, time.Monday, 12 * 60, true}, {weekdays, time.Monday, 18*60 + 59, true}, {weekdays, time.Monday, 19 * 60, false},
	} {
		site := library()
		site.Timezone, site.Hours = time.UTC, c.hours
		w := New(site)
		u := w.tanks[0]
		at := sunday.Add(time.Duration(c.day)*day + time.Duration(c.clock)*time.Minute)
		s := u.sensor("level")
		for d := time.Duration(0); d <= restlessFor; d += aquarium.Step {
			mm := 0.0
			if d/aquarium.Step%2 == 0 {
				mm = 1
			}
			s.hear(at.Add(d-restlessFor), mm)
			s.take(at.Add(d-restlessFor), mm, aquarium.Good)
		}
		s.reckon()
		s.wave.n, s.wave.slow, s.wave.digit = waveKnown+1, 0.5, 1
		u.signs.seeWaves(&view{w: w, now: at, tank: u}, u, true)
		if got := u.signs.first[waves] != 0; got != c.hands {
			t.Errorf("hours %v, %v at %02d:%02d: hands %v, want %v", c.hours, c.day, c.clock/60, c.clock%60, got, c.hands)
		}
	}
}
