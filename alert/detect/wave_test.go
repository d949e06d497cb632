package detect

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestWaves: hands in the water are seen by a fine level and by a coarse one; a level
// that stands on the edge between two of its steps, and flickers, shows none.
func TestWaves(t *testing.T) {
	for _, c := range []struct {
		name   string
		every  time.Duration
		step   float64 // mm
		at, sd float64 // mm
		want   bool
	}{
		{"still water, whole millimetres", 10 * time.Second, 1, 0.5, 0.3, false},
		{"on the edge of 2 mm", 30 * time.Second, 2, 1, 0.4, false},
		{"on the edge of 5 mm", time.Minute, 5, -2.5, 1.2, false},
		{"hands, whole millimetres", 10 * time.Second, 1, 0.5, 4, true},
		{"hands, 5 mm", time.Minute, 5, -2.5, 14, true},
	} {
		rng := rand.New(rand.NewPCG(5, 9))
		var w wave
		for d := time.Duration(0); d < 8*h; d += c.every {
			sd := 0.3
			if d >= 6*h {
				sd = c.sd
			}
			mm := c.at - 4.5*c.step // well between two steps
			if d >= 2*h && (d >= 6*h || !c.want) {
				mm = c.at
			}
			w.take(zero.Add(d), math.Round((mm+sd*rng.NormFloat64())/c.step)*c.step, true)
		}
		if got := w.rough != 0; got != c.want {
			t.Errorf("%s: waves %v, want %v", c.name, got, c.want)
		}
	}
}

// TestRestless: small waves of hands are seen over minutes by a level with noise of its
// own; a splash, a step as the stopping filters make and water that leaves steadily are
// none, and of quiet stretches no more than chance.
func TestRestless(t *testing.T) {
	const every = 10 * time.Second
	for _, c := range []struct {
		name  string
		mm    func(d time.Duration) float64 // since the last four minutes began
		sd    float64
		usual float64 // second difference, with the steps' own
		most  float64 // of all trials that are restless; else nearly all must be
	}{
		{"quiet", func(time.Duration) float64 { return 0 }, 0.5, 1.13, 0.005},
		{"a splash of 40 s", func(d time.Duration) float64 {
			if d >= 2*m && d < 2*m+40*time.Second {
				return 12 * math.Sin(float64(d/every)*2)
			}
			return 0
		}, 0.5, 1.13, 0.1},
		{"a step of 8 mm", func(d time.Duration) float64 {
			if d >= 2*m {
				return 8
			}
			return 0
		}, 0.5, 1.13, 0.01},
		{"water leaves, 10 mm a minute", func(d time.Duration) float64 { return -10 * d.Minutes() }, 0.5, 1.13, 0.005},
		{"hands", func(time.Duration) float64 { return 0 }, 2, 1.13, 1},
		{"hands, and a level that is quiet else", func(time.Duration) float64 { return 0.3 }, 1.5, 0.5, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			rng, restless := rand.New(rand.NewPCG(3, 11)), 0
			const trials = 2000
			for range trials {
				s := &series{}
				s.wave.n, s.wave.slow, s.wave.digit = waveKnown+1, c.usual, 1
				for d := time.Duration(0); d < restlessFor; d += every {
					s.points = append(s.points, point{zero.Add(d), math.Round(c.mm(d) + c.sd*rng.NormFloat64())})
				}
				s.reckon()
				if s.restless(s.points[len(s.points)-1].at) {
					restless++
				}
			}
			switch share := float64(restless) / trials; {
			case c.most < 1 && share > c.most:
				t.Errorf("restless in %.4f of all, want at most %.3f", share, c.most)
			case c.most == 1 && share < 0.93:
				t.Errorf("restless in %.4f of all, want nearly all", share)
			}
		})
	}
}

// TestRestlessOnChange: a level that tells its changes goes to and fro by one of its
// steps on an edge, and by more than that again and again only with hands in it.
func TestRestlessOnChange(t *testing.T) {
	const every, trials = 10 * time.Second, 2000
	for _, c := range []struct {
		name        string
		mm          func(rng *rand.Rand) float64 // each twenty seconds
		least, most float64                      // share of all trials that are restless
	}{
		{"on an edge between two steps", func(*rand.Rand) float64 { return 0.5 }, 0, 0.005},
		{"a splash of 40 s", nil, 0, 0.15},
		{"hands", func(rng *rand.Rand) float64 { return 4*rng.Float64() - 1 }, 0.8, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			rng, restless := rand.New(rand.NewPCG(3, 12)), 0
			for range trials {
				s := &series{config: aquarium.Sensor{OnChange: true, Refresh: 15 * m}}
				s.wave.n, s.wave.slow, s.wave.digit = waveKnown+1, 1.9, 1
				told, water := math.Inf(1), 0.0
				for d := time.Duration(0); d < restlessFor; d += every {
					switch {
					case c.mm == nil:
						water = 0
						if d >= 2*m && d < 2*m+40*time.Second {
							water = 8 * rng.Float64()
						}
					case d%(2*every) == 0:
						water = c.mm(rng)
					}
					if v := math.Round(water + 0.3*rng.NormFloat64()); v != told {
						told = v
						s.points, s.heard = append(s.points, point{zero.Add(d), v}), zero.Add(d)
					}
				}
				s.reckon()
				if s.restless(s.points[len(s.points)-1].at) {
					restless++
				}
			}
			if share := float64(restless) / trials; share < c.least || share > c.most {
				t.Errorf("restless in %.4f of all, want from %.3f to %.3f", share, c.least, c.most)
			}
		})
	}
}

// TestWavesWithoutAReading: water that begins to leave while a reading is missing bends its
// course by no more than it does where all came; a sensor that tells its changes only has
// no gap that could be too long.
func TestWavesWithoutAReading(t *testing.T) {
	for _, c := range []struct {
		name    string
		byClock bool
		missing int // of those by which water leaves; -1: none
		most    float64
	}{
		{"all of them", true, -1, 0.21},
		{"not the first", true, 0, 0.36},
		{"not the second", true, 1, 0.21},
		{"on change", false, 0, 1.0},
	} {
		var w wave
		for i := range 60 {
			mm := min(0, float64(50-i)*2)
			if i-51 != c.missing || c.missing < 0 {
				w.take(zero.Add(time.Duration(i)*15*time.Second), mm, c.byClock)
			}
			if i == 53 && (w.fast > c.most || w.fast < 0.75*c.most) {
				t.Errorf("%s: rough by %.2f mm, want %.2f", c.name, w.fast, c.most)
			}
		}
	}
}
