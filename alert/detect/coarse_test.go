package detect

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// coarse are whole millimetres, read each minute by a sensor whose readings differ by
// most of one from water that is still. The newest are the last.
var coarse = []float64{-2, -2, -3, -2, -1, -2, -2, -2, -1, -2, -2, -1, -3, -2, -3, -2, -1, -1, -2, -2, -3, -2, -2, -1, -2, -1, -2, -2, -1, -2, -2, -2, -2, -2, -2, -1, -1, -1, -1, -1, -1, -1, 0, 0}

func minutely(mm []float64) (ps []point) {
	for i, v := range mm {
		ps = append(ps, point{zero.Add(time.Duration(i) * time.Minute), v})
	}
	return ps
}

// TestQuietStretchIsNoClimb: some minutes in which a coarse sensor happens to scatter
// less than it does are no proof of water that runs in.
func TestQuietStretchIsNoClimb(t *testing.T) {
	ps := minutely(coarse)
	if !alone.climbs(ps, time.Minute) {
		t.Fatal("the readings alone do not climb: they test nothing")
	}
	level := new(series)
	level.wave.slow = 1.6 // 0.8 mm
	if alone.of(level).climbs(ps, time.Minute) {
		t.Error("a millimetre is told as water that runs in")
	}
	for i := range ps {
		ps[i].v += 0.5 * max(0, float64(i-len(ps)+12)) // 30 mm an hour since 12 min ago
	}
	if !alone.of(level).climbs(ps, time.Minute) {
		t.Error("six millimetres are not")
	}
}

// TestNoisyLevelShowsHands: what is rough is the sensor's own, and so is how much one
// splash may count for.
func TestNoisyLevelShowsHands(t *testing.T) {
	var w wave
	at := zero
	take := func(mm ...float64) {
		for _, v := range mm {
			at = at.Add(time.Minute)
			w.take(at, v, true)
		}
	}
	for range 5 {
		take(coarse...)
	}
	if w.rough != 0 {
		t.Fatal("still water is rough")
	}
	take(-1, 9, -2, 6, 1, 12)
	if w.rough == 0 {
		t.Error("hands in the water are not seen")
	}
}

// TestSplashOfTwoReadings: two readings lie in a splash, the third comes some seconds
// late and is far enough off to be held back until the next.
func TestSplashOfTwoReadings(t *testing.T) {
	site := without(library(), "topoff")
	w := New(site)
	still := coarse[:30]
	mm := slices.Concat(still, still, []float64{10, 19, -3, -1, -3, 0, -2, -1})
	next := 0
	for d := time.Duration(0); next < len(mm); d += aquarium.Step {
		for next < len(mm) {
			at := time.Duration(next)*time.Minute + 6*time.Second
			if next == 2*len(still)+2 {
				at += 5 * time.Second
			}
			if at > d {
				break
			}
			w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: "level"}, At: zero.Add(at), Value: mm[next]})
			next++
		}
		for _, x := range w.Tick(zero.Add(d)) {
			if x.Event == aquarium.Raised {
				t.Errorf("%s is told at %v", x.Identity.Cause, d)
			}
		}
	}
}

// TestUnplugged: nothing was learned yet, and an electrode reads what its cable catches.
func TestUnplugged(t *testing.T) {
	for _, every := range []time.Duration{10 * time.Second, time.Minute} {
		for seed := range uint64(20) {
			site := library()
			w := New(site)
			rng := rand.New(rand.NewPCG(seed, 3))
			var told []aquarium.Cause
			last := time.Duration(0)
			for d := time.Duration(0); d <= 3*h; d += aquarium.Step {
				ph := 6.62 + 0.004*rng.NormFloat64()
				if d > h {
					ph = 6 + math.Sin(d.Seconds()/700)*math.Sin(d.Seconds()/97) + 0.2*rng.NormFloat64()
				}
				if d%every == 0 {
					for id, v := range map[aquarium.SensorID]float64{"ph": ph, "valve": 1} {
						w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: id}, At: zero.Add(d), Value: v})
					}
				}
				for _, x := range w.Tick(zero.Add(d)) {
					if x.Event == aquarium.Raised {
						told, last = append(told, x.Identity.Cause), d
					}
				}
			}
			if len(told) != 1 || told[0] != aquarium.SensorImplausible || last > 90*m {
				t.Errorf("each %v, seed %d: %v are told, the last at %v", every, seed, told, last)
			}
		}
	}
}

// TestOverfilled: somebody pours a bucket in, and a coarse level comes down as water
// evaporates: that is one alarm, and not one more for each look around the band's end.
func TestOverfilled(t *testing.T) {
	for seed := range uint64(3) {
		site := without(library(), "topoff")
		w := New(site)
		rng := rand.New(rand.NewPCG(seed, 11))
		told, back := 0, 0
		for d := time.Duration(0); d < 40*h; d += aquarium.Step {
			mm := 1.0
			if d > 2*h {
				mm = 11 - 0.3*(d-2*h).Hours()
			}
			if d%time.Minute == 0 {
				w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: "level"}, At: zero.Add(d), Value: math.Round(mm + 0.8*rng.NormFloat64())})
			}
			for _, x := range w.Tick(zero.Add(d)) {
				switch {
				case x.Identity.Cause != aquarium.TopOffRunaway:
				case x.Event == aquarium.Raised:
					told++
				case x.Event == aquarium.Returned:
					back++
				}
			}
		}
		if told != 1 || back != 1 {
			t.Errorf("seed %d: told %d times, and %d times over, want one of each", seed, told, back)
		}
	}
}

// TestFlickerIsNoFall: a level that stands on the edge between two of its steps of 5 mm
// loses nothing, however long it happens to read the lower one after the higher.
func TestFlickerIsNoFall(t *testing.T) {
	site := library()
	site.Tanks[0].Equipment.TopOff.Pump = ""
	w := New(site)
	// A chance run of seven lower ones ends it.
	const edge = "++-+--++-+-+++--++-++++-+++++++-+-++-+++-+--++-+-++++++-+-+-++-----+++----+-++---+-+++++----+++++++--++---+--++++++--+-+-+++++--------+"
	for i := range 120 + len(edge) {
		at, mm := zero.Add(time.Duration(i)*m), 5.0
		if i >= 120 && edge[i-120] == '-' {
			mm = 0
		}
		w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: "level"}, At: at, Value: mm})
		for _, x := range w.Tick(at) {
			if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.WaterLoss {
				t.Errorf("told after %d min", i)
			}
		}
	}
}

// TestMiddlesOfAFewStepsAreNoSwing: of a level in whole millimetres that is read each
// half a minute and stays where it is, the middle of four readings is now and then one
// step above the water, and then one below it: that is no leak which a top-off makes good.
func TestMiddlesOfAFewStepsAreNoSwing(t *testing.T) {
	site, rng := library(), rand.New(rand.NewPCG(1, 306))
	site.Tanks[0].Equipment.TopOff.Pump = ""
	w := New(site)
	for i := range 7 * 2 * 1440 {
		at := zero.Add(time.Duration(i) * m / 2)
		early := time.Duration(4*rng.Float64()) * time.Second
		w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: "level"}, At: at.Add(-early), Value: math.Round(-1 + 0.4*rng.NormFloat64())})
		w.Tick(at)
		if litresH, _, ok := w.tanks[0].vessel.swings.lost(w.tanks[0], at, 1); ok {
			t.Fatalf("%.1f l/h lost, seen after %v", litresH, time.Duration(i)*m/2)
		}
	}
}

// round is a fine level from when sixty litres an hour begin to leave, which a pump of
// ninety makes good within its band: three minutes down and five up, a reading a minute.
var round = []float64{-3.8, -2.2, -3.0, -2.2, -1.1, -0.7, 0.2, -0.8, -2.1, -2.3, -3.3, -3.3, -2.5, -2.2, -1.2, -0.6, -0.7, -0.2, -1.8, -3.0, -3.3, -3.5, -2.7, -2.8, -1.9, -0.8, 0.5, -0.6, -2.1, -2.9, -3.2, -2.8, -1.6, -1.6, -1.4, -0.7, 0.2, -0.7, -1.8, -3.2, -3.7, -2.6, -2.4, -1.7, -1.7, -1.3, -0.2, -1.2, -1.8, -3.4, -3.7, -2.8, -2.0, -1.9, -1.1, -0.6, 0.1, -1.0, -2.1}

// TestRoundsOfAFineLevel: where no switch tells of the pump, the level's way down and up
// does, though no fall has readings enough to be one.
func TestRoundsOfAFineLevel(t *testing.T) {
	site, rng := library(), rand.New(rand.NewPCG(7, 3))
	site.Tanks[0].Equipment.TopOff.Pump = ""
	w := New(site)
	lost := func(at aquarium.Instant, mm float64) (litresH float64, ok bool) {
		w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: "level"}, At: at, Value: mm})
		w.Tick(at)
		litresH, _, ok = w.tanks[0].vessel.swings.lost(w.tanks[0], at, 3)
		return litresH, ok
	}
	at := zero
	for range 180 {
		if litresH, ok := lost(at, math.Round(10*(-2.5+0.5*rng.NormFloat64()))/10); ok {
			t.Fatalf("%.0f l/h lost of water that is still", litresH)
		}
		at = at.Add(m)
	}
	for i, mm := range round {
		if litresH, ok := lost(at, mm); ok {
			if i > 35 || litresH < 10 || litresH > 60 { // at the least, of what leaves
				t.Errorf("%.0f l/h lost, seen after %d min", litresH, i)
			}
			return
		}
		at = at.Add(m)
	}
	t.Error("not seen")
}

// TestSplashIsNotOverTheBand: with a reading a minute, three are few for their mean,
// and one splash may be two of them; with the pump known to be off there are five.
func TestSplashIsNotOverTheBand(t *testing.T) {
	for _, c := range []struct {
		name  string
		mm    []float64
		still bool
		want  bool
	}{
		{"two readings in a splash", []float64{1, 1, 2, 1, 1, 1, 5, 10}, false, false},
		{"a level that has passed it", []float64{1, 2, 3, 4, 5, 6, 7}, false, true},
		{"a level at its end", []float64{3, 4, 4, 4, 5, 4, 4}, false, false},
		{"two readings in a splash at its end, the pump off", []float64{3, 4, 4, 4, 4, 5, 4, 9, 12}, true, false},
		{"one that has passed it, the pump off", []float64{3, 4, 4, 5, 5, 6, 6, 6, 6}, true, true},
	} {
		s := &series{}
		var now aquarium.Instant
		for i, mm := range c.mm {
			now = zero.Add(time.Duration(i) * time.Minute)
			s.points = append(s.points, point{now, mm})
		}
		s.settle()
		d := overFor
		if c.still {
			d = runawayStill
		}
		if got := s.over(now, d, 4, max(leastNoise, s.wave.noise())); got != c.want {
			t.Errorf("%s: over its band: got %t, want %t", c.name, got, c.want)
		}
	}
}

// TestDeepest: what a level has come up by before is no part of what it falls by, nor is
// one reading.
func TestDeepest(t *testing.T) {
	for _, c := range []struct {
		name string
		mm   []float64
		want float64
	}{
		{"up by two steps, and down by one", []float64{-5, -5, -5, 0, 0, 5, 5, 5, 0, 0, 0}, 5},
		{"down by two", []float64{5, 5, 5, 0, 0, 0, -5, -5, -5, 0, 0}, 10},
		{"one reading", []float64{5, 5, 0, 0, -5, 0, 0}, 5},
		{"none", nil, 0},
	} {
		if got := deepest(minutely(c.mm)); got != c.want {
			t.Errorf("%s: %v mm, want %v", c.name, got, c.want)
		}
	}
}

// TestCoarseStepsAreNoWater: a level that the air takes down through the edges between
// its steps, and the top-off brings back to its mark, neither loses water
// nor runs over.
func TestCoarseStepsAreNoWater(t *testing.T) {
	for _, switches := range []bool{true, false} {
		for _, step := range []float64{2, 3, 5} {
			site := library()
			ids := []aquarium.SensorID{"level", "topoff"}
			if !switches {
				site, ids = without(site, "topoff"), ids[:1]
			}
			w := New(site)
			rng := rand.New(rand.NewPCG(3, uint64(step)))
			mm, pump := 2.0, 0.0
			var told []string
			for d := time.Duration(0); d <= 6*day; d += aquarium.Step {
				if mm -= 0.4 / 360; mm < -4 {
					pump = 1
				} else if mm > 4.2 {
					pump = 0
				}
				mm += pump * 0.2
				for i, v := range []float64{math.Round((mm+0.3*rng.NormFloat64())/step) * step, pump}[:len(ids)] {
					if d%time.Minute == 0 {
						w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: ids[i]}, At: zero.Add(d), Value: v})
					}
				}
				for _, x := range w.Tick(zero.Add(d)) {
					if x.Event == aquarium.Raised && (x.Identity.Cause == aquarium.WaterLoss || x.Identity.Cause == aquarium.TopOffRunaway || x.Identity.Cause == aquarium.TopOffFailed) {
						told = append(told, string(x.Identity.Cause)+" after "+d.String())
					}
				}
			}
			if len(told) > 0 {
				t.Errorf("steps of %v mm, pump known %v: %v", step, switches, told)
			}
		}
	}
}
