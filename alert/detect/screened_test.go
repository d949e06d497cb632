package detect

import (
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/screen"
)

// TestRefused: while a probe hangs in the air, says what no water does or repeats
// itself, the watch tells since when and for what it takes it; before and after it
// tells nothing, and it remembers.
func TestRefused(t *testing.T) {
	for _, c := range []struct {
		name    string
		reads   func(n int) float64 // the n-th reading of the pH from 10 h on
		look    time.Duration       // when it is looked at
		quality aquarium.Quality
		since   time.Duration
		after   time.Duration // when it is over; 0: never within the story
	}{
		{"in the air", func(n int) float64 {
			out := float64(n) / 6 // minutes, as an electrode drifts in the air
			return math.Round(100*(8.2-0.9*math.Exp(-out/5)+0.15*math.Sin(out*11))) / 100
		}, 606 * time.Minute, aquarium.InAir, 600 * time.Minute, 620 * time.Minute},
		{"beyond what pH can be", func(int) float64 { return 0 }, 605 * time.Minute, aquarium.OutOfRange, 600 * time.Minute, 620 * time.Minute},
	} {
		t.Run(c.name, func(t *testing.T) {
			site := library()
			s := script{paths: calm(), every: 10 * time.Second, lasts: 12 * time.Hour, noise: 1}
			k := aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: "ph"}
			xs, n := s.samples(t, site), 0
			for i := range xs {
				if d := xs[i].At.Sub(zero); xs[i].Sensor == k && d >= 10*time.Hour && d < 610*time.Minute {
					xs[i].Value = c.reads(n)
					n++
				}
			}
			w := New(site)
			ask := func(at time.Duration) (screen.Spell, bool) {
				s.play(w, xs, max(0, w.now.Sub(zero)), at)
				return w.Refused(k)
			}
			if x, ok := ask(599 * time.Minute); ok {
				t.Errorf("refused before anything happened: %v", x)
			}
			x, ok := ask(c.look)
			if !ok || x.Quality != c.quality || x.From != zero.Add(c.since) || zero.Add(c.look).Sub(x.To) > time.Minute {
				t.Errorf("at %s: %v from %s to %s (%v), want %v from %s on", c.look, x.Quality, x.From.Sub(zero), x.To.Sub(zero), ok, c.quality, c.since)
			}
			if x, ok := ask(c.after); ok {
				t.Errorf("still refused at %s: %v since %s", c.after, x.Quality, x.From.Sub(zero))
			}
			from, of, ok := w.Spells(k.TankKey())
			if !ok || from > zero.Add(time.Minute) || len(of["ph"]) != 1 || of["ph"][0].From != zero.Add(c.since) || of["ph"][0].Quality != c.quality {
				t.Errorf("remembers from %s: %v", from.Sub(zero), of)
			}
			if len(of) != 1 {
				t.Errorf("other sensors are refused too: %v", of)
			}
		})
	}
}
