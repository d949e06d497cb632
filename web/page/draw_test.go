package page

import (
	"math"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

func TestScaleNeverMagnifiesNoise(t *testing.T) {
	for _, c := range []struct {
		name   string
		sensor aquarium.Sensor
		mark   bool
		lo, hi float64
		least  float64
		zero   bool
	}{
		{"pH", aquarium.Sensor{Quantity: aquarium.PH}, false, 6.58, 6.6, 0.5, false},
		{"temperature", aquarium.Sensor{Quantity: aquarium.Temperature}, false, 24.5, 24.6, 2, false},
		{"level", aquarium.Sensor{Quantity: aquarium.Level}, true, 0, 1, 10, false},
		{"flow from nothing", aquarium.Sensor{Quantity: aquarium.Flow}, false, 1000, 1010, 1000, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := shapeOf(c.sensor, c.mark)
			st := Strip{MinSpan: f.minSpan, FromZero: f.fromZero}
			got := scaleOf(&st, []Series{{T: []aquarium.Instant{1}, Min: []float64{c.lo}, Mean: []float64{c.lo}, Max: []float64{c.hi}}})
			if got.hi-got.lo < c.least {
				t.Errorf("span %v, want at least %v", got.hi-got.lo, c.least)
			}
			if c.zero && got.lo != 0 {
				t.Errorf("begins at %v, want 0", got.lo)
			}
		})
	}
}

func TestGapIsAGap(t *testing.T) {
	s := Series{Gap: 3 * time.Minute, T: []aquarium.Instant{0, 60e3, 600e3, 660e3}, Min: []float64{1, 1, 1, 1}, Mean: []float64{1, 1, 1, 1}, Max: []float64{1, 1, 1, 1}}
	c := canvas{from: 0, to: 700e3, now: 700e3, zone: time.UTC, h: 50}
	d := c.line(Strip{}, Line{}, s, scale{0, 2}, false)
	if got := strings.Count(d.Path, "M"); got != 2 {
		t.Errorf("%d stretches in %s, want 2", got, d.Path)
	}
	s.Poor = []bool{false, true, false, false}
	if d = c.line(Strip{}, Line{}, s, scale{0, 2}, false); strings.Count(d.Path, "M") != 2 || strings.Contains(d.Path, "85.7") {
		t.Errorf("a poor value is joined: %s", d.Path)
	}
	if got := c.poor(s, scale{0, 2}); len(got) != 1 {
		t.Errorf("%d hollow values, want 1", len(got))
	}
}

func TestPerWeek(t *testing.T) {
	var s Series
	for h := 0; h < 240; h++ {
		v := 10 + float64(h)/24 + math.Sin(float64(h)*math.Pi/12)
		if h == 100 {
			v = 500 // a spike moves nothing
		}
		s.T, s.Mean = append(s.T, aquarium.Instant(h*3600e3)), append(s.Mean, v)
	}
	got, days, ok := perWeek(s, time.UTC)
	if !ok || days != 10 || math.Abs(got-7) > 0.1 {
		t.Errorf("got %v per week over %d days, want 7 over 10", got, days)
	}
	if _, _, ok := perWeek(Series{T: s.T[:30], Mean: s.Mean[:30]}, time.UTC); ok {
		t.Error("two days make no trend")
	}
}

func TestFormats(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{shapeOf(aquarium.Sensor{Quantity: aquarium.PH}, false).full(6.584), "6.58"},
		{shapeOf(aquarium.Sensor{Quantity: aquarium.Temperature}, false).full(24.55), "24.6\u202f°C"},
		{shapeOf(aquarium.Sensor{Quantity: aquarium.Level}, true).full(3.2), "+3\u202fmm"},
		{shapeOf(aquarium.Sensor{Quantity: aquarium.Level}, true).full(-0.2), "0\u202fmm"},
		{shapeOf(aquarium.Sensor{Quantity: aquarium.Flow}, false).full(1043), "1,040\u202fl/h"},
		{shapeOf(CO2Estimate, false).full(31.4), "31\u202fmg/l"},
		{lasting(80 * time.Minute), "1\u202fh 20\u202fmin"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

func TestWhoNeedsYouFirst(t *testing.T) {
	s := stage{zone: time.UTC, now: 2e12}
	got := ordered([]TankView{s.tank("lobby", nil), s.silent(), s.tank("atrium", s.crash())}, s.now)
	if len(got[0].Alarms) != 1 || s.now.Sub(got[1].Heard) < time.Hour {
		t.Error("want the alarm first, then the silent tank")
	}
}
