package detect

import (
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestTrickleAfterCalibration: how strongly gas comes is known though the electrode was
// handled the day before: a tenth of it that still comes is told within the hour, and half
// of it is not.
func TestTrickleAfterCalibration(t *testing.T) {
	for _, c := range []struct {
		name string
		ph   string
		want bool
	}{
		{"a tenth comes", "0m:7.8 60m:7.8 68m:7.8 180m:7.65", true},
		{"half comes", "0m:7.8 60m:7.8 68m:7.8 98m:7.35 128m:7.15 180m:6.95", false},
	} {
		site := library()
		s := script{paths: calm(), every: 10 * time.Second, noise: 1, lasts: 3 * h}
		s.paths["ph"], s.paths["valve"] = c.ph, "0m:0 60m:1"
		w := New(site)
		var usual Vigour
		for i := range vigourLeast {
			usual.takeMorning(morning{At: zero.Add(time.Duration(i-5) * day), Plateau: 7.8, Rate: -7.0}, 0)
		}
		w.Recall(&Learned{Tank: "atrium", Through: zero.Floor(day), Vigour: usual, Drift: &Drift{From: zero.Add(-day)}})
		told := false
		ts := s.play(w, s.samples(t, site), 0, s.lasts)
		for _, x := range ts {
			told = told || x.Event == aquarium.Raised && x.Identity.Cause == aquarium.CO2NotDosing && x.At <= zero.Add(2*h)
		}
		if told != c.want {
			t.Errorf("%s: told %v, want %v:%s", c.name, told, c.want, brief(ts))
		}
	}
}

// TestSameHour: an hour of the days before is the one at the same time by the site's clocks,
// also across a change of summer time.
func TestSameHour(t *testing.T) {
	london, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Fatal(err)
	}
	v := &view{now: aquarium.At(time.Date(2026, 3, 29, 9, 40, 0, 0, london)), w: &Watch{site: aquarium.Site{Timezone: london}}}
	if got, want := v.sameHour(1), aquarium.At(time.Date(2026, 3, 28, 9, 0, 0, 0, london)); got != want {
		t.Errorf("a day before: %v, want %v", got, want)
	}
}

// TestAmpleByDayAndNight: a tank that doses day and night is known to hold its pH with less
// than half of the valve's time too.
func TestAmpleByDayAndNight(t *testing.T) {
	for share, want := range map[float64]bool{-0.44: true, -0.2: false} {
		l := &Learned{}
		x := &tank{config: &aquarium.Tank{Equipment: aquarium.Equipment{CO2: &aquarium.CO2{Target: 6.6}}}, course: course{learned: l}}
		for i := range 4 {
			x.dosing.cycling.last = openings(zero.Add(time.Duration(i)*day), 14, -6.86, 0, share)
			l.Through = zero.Add(time.Duration(i+1) * day)
			learnVigour(nil, x, l)
		}
		if got := x.ample(); got != want {
			t.Errorf("a share of %.2f: %v, want %v", math.Pow(10, share), got, want)
		}
	}
}
