package detect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// probes are levels as usual and unusual sensors show them: noise and
// resolution in mm. The first is the usual one.
var probes = [][2]float64{{0.3, 1}, {0.02, 1}, {0.1, 1}, {0.2, 1}, {0.3, 0.1}, {0.5, 1}}

// readLevel reads a level each so often until told returns true, and says when
// that was; false where it never was.
func readLevel(rng *rand.Rand, probe [2]float64, every, lasts time.Duration, level func(d time.Duration) float64) (time.Duration, bool) {
	s := &series{}
	var ps []point
	keep := int(max(siphonWindow, slowReadings*every)/every) + 1
	for d := time.Duration(0); d < lasts; d += every {
		v := level(d) + rng.NormFloat64()*probe[0]
		ps = append(ps, point{zero.Add(d), math.Round(v/probe[1]) * probe[1]})
		s.wave.take(zero.Add(d), ps[len(ps)-1].v, true)
		if alone.of(s).climbs(ps[max(0, len(ps)-keep):], every) {
			return d, true
		}
	}
	return 0, false
}

// TestSiphonIsTold: 12 l/h into a tank of 0.9 l/mm that evaporates half a
// millimetre an hour are told by the level alone within ten minutes, and where
// readings come each minute mostly so. What comes each five minutes cannot be
// told from a stone by two readings: mostly by four.
func TestSiphonIsTold(t *testing.T) {
	for _, c := range []struct {
		probe    [2]float64
		every    time.Duration
		within   time.Duration
		share    float64
		atLatest time.Duration
	}{
		{probes[0], 10 * time.Second, 10 * time.Minute, 0.95, 11 * time.Minute},
		{probes[4], 10 * time.Second, 10 * time.Minute, 1, 10 * time.Minute},
		{probes[0], time.Minute, 10 * time.Minute, 0.85, 20 * time.Minute},
		{probes[1], time.Minute, 10 * time.Minute, 0.85, 12 * time.Minute},
		{probes[4], time.Minute, 10 * time.Minute, 0.95, 13 * time.Minute},
		{probes[0], 5 * time.Minute, 20 * time.Minute, 0.6, 45 * time.Minute},
	} {
		t.Run(fmt.Sprint(c.probe, c.every), func(t *testing.T) {
			const runs = 300
			in, worst := 0, time.Duration(0)
			for seed := range uint64(runs) {
				rng := rand.New(rand.NewPCG(seed, 9))
				off, onset := rng.Float64(), 90*time.Minute+time.Duration(rng.Int64N(int64(c.every)))
				at, ok := readLevel(rng, c.probe, c.every, 3*h, func(d time.Duration) float64 {
					return off - 0.5*d.Hours() + 12/0.9*max(0, (d-onset).Hours())
				})
				if !ok || at < onset {
					t.Fatalf("seed %d: told at %v %v, begun at %v", seed, at, ok, onset)
				}
				if at-onset <= c.within {
					in++
				}
				worst = max(worst, at-onset)
			}
			t.Logf("%.0f %% within %v, the last after %v", 100*float64(in)/runs, c.within, worst)
			if float64(in) < c.share*runs || worst > c.atLatest {
				t.Errorf("%d of %d within %v, the last after %v; want %v and %v", in, runs, c.within, worst, c.share, c.atLatest)
			}
		})
	}
}

// TestSiphonCriesNoWolf: levels that fall by evaporation and swing with the
// room's warmth between one top-off and the next, for years: at most one false
// alarm in ten.
func TestSiphonCriesNoWolf(t *testing.T) {
	years := 4.0
	if testing.Short() {
		years = 0.5
	}
	told, lived := 0, 0.0
	for _, probe := range probes {
		for _, every := range []time.Duration{time.Minute, 5 * time.Minute} {
			rng := rand.New(rand.NewPCG(3, 9))
			for range int(years * 365 * 24 / 10) {
				off, fall, warm, phase := rng.Float64(), 0.2+0.6*rng.Float64(), 0.1*rng.Float64(), 6*rng.Float64()
				if _, ok := readLevel(rng, probe, every, 10*h, func(d time.Duration) float64 {
					return off - fall*d.Hours() + warm*math.Sin(d.Hours()+phase)
				}); ok {
					told++
				}
			}
			lived += years
		}
	}
	t.Logf("%d in %.0f years", told, lived)
	if float64(told) > lived/10 {
		t.Errorf("%d false alarms in %.0f years", told, lived)
	}
}

// TestStoneIsNoSiphon: what is put into the water lifts its level at once.
func TestStoneIsNoSiphon(t *testing.T) {
	for _, every := range []time.Duration{10 * time.Second, time.Minute} {
		for _, stone := range []float64{1, 1.5, 2, 3, 5, 20} {
			const runs = 200
			told := 0
			for seed := range uint64(runs) {
				rng := rand.New(rand.NewPCG(seed, 3))
				off, onset := rng.Float64(), 90*time.Minute+time.Duration(rng.Int64N(int64(every)))
				if _, ok := readLevel(rng, probes[0], every, 3*h, func(d time.Duration) float64 {
					if d > onset {
						return off - 0.5*d.Hours() + stone
					}
					return off - 0.5*d.Hours()
				}); ok {
					told++
				}
			}
			// Two litres spread over noise look like either, now and then.
			limit := 0
			if stone <= 3 {
				limit = runs / 5
			}
			if told > limit {
				t.Errorf("%v mm at once, read each %v: told %d times in %d", stone, every, told, runs)
			}
		}
	}
}

// TestSigmas: the tail of Student's t, integrated, is that of the normal
// distribution at sigmas, to a tenth of a standard deviation at the far end.
func TestSigmas(t *testing.T) {
	for _, f := range []int{4, 8, 16, 43, 268} {
		for _, x := range []float64{2, 4, 6, 8} {
			n := float64(f)
			lg := func(v float64) float64 { l, _ := math.Lgamma(v); return l }
			c := math.Exp(lg((n+1)/2)-lg(n/2)) / math.Sqrt(n*math.Pi)
			tail := 0.0 // over u = 1/v, by the midpoint rule
			const steps = 200_000
			for i := range steps {
				u := (float64(i) + 0.5) / steps / x
				tail += c * math.Pow(1+1/(u*u*n), -(n+1)/2) / (u * u) / steps / x
			}
			want := math.Sqrt2 * math.Erfcinv(2*tail)
			if got := sigmas(x, f); math.Abs(got-want) > 0.1 {
				t.Errorf("t %v of %d: %v, want %v", x, f, got, want)
			}
		}
	}
}

// TestTopOffOfAQuarterOfAnHourAgo: where no switch tells of a pump that is done in three
// minutes, of a level in whole millimetres each minute, what happens to read higher and
// higher after it is no climb of its own.
func TestTopOffOfAQuarterOfAnHourAgo(t *testing.T) {
	site := library()
	tank := newTank(site.ID, &site.Tanks[0])
	part := tank.config.Equipment.TopOff
	part.BandMM, part.RateLH = 2, 155*tank.config.Size.LitresPerMM()/1.66
	var ps []point
	for i, mm := range []float64{-2, -2, -2, -2, -3, -2, -3, -1, -2, 0, 1, 1, 1, 2, 1, 2, 3, 2, 3, 2, 3} {
		ps = append(ps, point{zero.Add(time.Duration(i) * m), mm})
	}
	if !tank.toppedOff(ps, hingeOf(ps, ps[6].at), m) {
		t.Error("what the top-off brought is taken for a climb")
	}
	if tank.toppedOff(ps[10:], hingeOf(ps[10:], ps[10].at), m) {
		t.Error("a climb from the middle of the band is taken for the top-off")
	}
}

// TestTopOffThatComesEarly: a top-off that goes by a sensor of its own comes before the
// level reads as low as its band's end. Where no switch tells of the pump and the level is
// coarse and seldom read, what it brings is no slow climb once days have shown that.
func TestTopOffThatComesEarly(t *testing.T) {
	site := library()
	tank := newTank(site.ID, &site.Tanks[0])
	tank.config.Equipment.TopOff.BandMM = 4
	for range 5 {
		tank.learned.Vessel.Lowest = append(tank.learned.Vessel.Lowest, -3.4)
	}
	var ps []point
	for i, mm := range []float64{-3, -4, -3, -4, -3, -3, -4, -3, -3, -1, 0, 1, 1, 1} {
		ps = append(ps, point{zero.Add(time.Duration(i) * m), mm})
	}
	h := hingeOf(ps, ps[7].at)
	if !tank.toppedOff(ps, h, m) {
		t.Error("what the top-off brought is taken for a climb")
	}
	tank.learned.Vessel.Lowest = []float64{-3.4}
	for i := range ps { // it began from well above
		ps[i].v += 3
	}
	if tank.toppedOff(ps, h, m) {
		t.Error("a climb from the middle of the band is taken for the top-off")
	}
}

// TestCreepsUp: 12 l/h that run in while the level stands at its lower end are no top-off of
// 90 l/h, which would have brought eight millimetres in five minutes; what brings a third of
// that may be one, and so may what has only just begun, or what a level in steps as large as
// its band shows.
func TestCreepsUp(t *testing.T) {
	for _, c := range []struct {
		name          string
		litresH, step float64
		every, lasts  time.Duration
		want          bool
	}{
		{"a siphon", 12, 0.1, 10 * time.Second, 10 * m, true},
		{"a siphon, just begun", 12, 0.1, 10 * time.Second, 5 * m, false},
		{"a tired pump", 30, 0.1, 10 * time.Second, 7 * m, false},
		{"the pump", 90, 0.1, 10 * time.Second, 2 * m, false},
		{"a siphon in steps of two millimetres", 12, 2, 10 * time.Second, 10 * m, false},
		{"readings each two minutes", 12, 0.1, 2 * m, 10 * m, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			site := library()
			tank := newTank(site.ID, &site.Tanks[0])
			tank.vessel.step, tank.vessel.waver.short.noise = c.step, 0.1
			rng := rand.New(rand.NewPCG(4, 9))
			var ps []point
			for d := -30 * m; d <= c.lasts; d += c.every {
				mm := -3.9 + c.litresH/0.9*max(0, d.Hours()) + 0.1*rng.NormFloat64()
				ps = append(ps, point{zero.Add(d), math.Round(mm/c.step) * c.step})
				tank.level.wave.take(zero.Add(d), ps[len(ps)-1].v, true)
			}
			h := hingeOf(ps, zero)
			if !tank.toppedOff(ps, h, c.every) {
				t.Error("it was not at its lower end")
			}
			if got := tank.creepsUp([][]point{ps}, h, len(ps), c.every); got != c.want {
				t.Errorf("no top-off: %v, want %v", got, c.want)
			}
		})
	}
}
