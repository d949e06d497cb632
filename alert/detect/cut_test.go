package detect

import (
	"slices"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// below are readings of a level under its mark, one digit each, "+" above it, in its steps.
func below(digits string, step float64) (mm []float64) {
	for _, d := range digits {
		mm = append(mm, -step*float64(strings.IndexRune("+0123456789", d)-1))
	}
	return mm
}

// TestNoiseCutsNoFall: a still level whose readings scatter by a step and more comes up by
// chance, too: what lies between is no fall, however many of them there are.
func TestNoiseCutsNoFall(t *testing.T) {
	for _, c := range []struct {
		name   string
		every  time.Duration
		step   float64
		digits string
	}{
		{"steps of two millimetres", 30 * time.Second, 2, "1100111212111110111110120101111122011101112010011011112210111111011111111101001210011121122"},
		{"the same, higher up", 30 * time.Second, 2, "100000110001112211110001100011010100101110000101110+01101001000+011200100100+001++0+0+101111"},
		{"steps of one", 15 * time.Second, 1, "2232232322232221322332231222222332322332323323322321212122222223322333333221333222223323232233223323222233223332322332222322323234334432333223222232323232232333323231122213233332234332"},
	} {
		site := library()
		site.Tanks[0].Equipment.TopOff.Pump = ""
		w := New(site)
		mm := below(c.digits, c.step)
		before := slices.Clone(mm) // as much as in the order in which it falls nowhere
		slices.Reverse(before)
		mm = slices.Concat(before, before, before, mm)
		for i, next := time.Duration(0), 0; i*aquarium.Step <= time.Duration(len(mm))*c.every+time.Minute; i++ {
			at := zero.Add(i * aquarium.Step)
			if next < len(mm) && i*aquarium.Step >= time.Duration(next)*c.every+20*time.Second {
				w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: "level"}, At: at, Value: mm[next]})
				next++
			}
			for _, x := range w.Tick(at) {
				if x.Event == aquarium.Raised && (x.Identity.Cause == aquarium.WaterLoss || x.Identity.Cause == aquarium.TopOffRunaway) {
					t.Errorf("%s: %s is told after %v", c.name, x.Identity.Cause, i*aquarium.Step)
				}
			}
		}
	}
}

// TestTwoFlickersAreNoStair: a level that reads the step above for three minutes, its own
// for three quarters of an hour and the one below for two has gone down no step in that
// time; one that falls by one in twelve minutes has.
func TestTwoFlickersAreNoStair(t *testing.T) {
	for _, c := range []struct {
		name             string
		above, on, below int // min
		want             bool
	}{
		{"noise", 3, 46, 2, false},
		{"twenty litres an hour", 4, 12, 1, true},
		{"five, from not far above", 8, 45, 1, true},
	} {
		var x stair
		at := 0
		for _, s := range []struct {
			mm    float64
			lasts int
		}{{-5, 60}, {0, c.above}, {-5, c.on}, {-10, c.below}} {
			for range s.lasts {
				at++
				x.take(zero.Add(time.Duration(at)*m), s.mm, 5)
			}
		}
		if got := x.told != 0; got != c.want {
			t.Errorf("%s: told a rate: %t, want %t", c.name, got, c.want)
		}
	}
}

// TestHosesLiftNoStretch: a filter that stops lifts the level with its first reading of
// nothing, and is known to stand by its second: neither is of the water before it.
func TestHosesLiftNoStretch(t *testing.T) {
	site := library()
	w := New(site)
	for i := range 40 {
		at, mm, flow := zero.Add(time.Duration(i)*15*time.Second), -1.0, 900.0
		if i >= 30 {
			mm, flow = 1, 0
		}
		for id, v := range map[aquarium.SensorID]float64{"level": mm, "flow-a": flow, "flow-b": flow} {
			w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: id}, At: at, Value: v})
		}
		for d := time.Duration(0); d < 15*time.Second; d += aquarium.Step {
			w.Tick(at.Add(d).Ceil(aquarium.Step))
		}
	}
	tank := w.tanks[0]
	stretches := tank.vessel.calm(tank.level.points)
	if len(stretches) == 0 {
		t.Fatal("nothing is calm")
	}
	for _, p := range stretches[0] {
		if p.v > 0 {
			t.Errorf("%v after its start the level is lifted before the filters stop", p.at.Sub(zero))
		}
	}
}

// TestFillCutsAFall: a top-off cuts what a leak of twenty litres an hour does in two. Each
// part alone may be a stone that was taken out; both together are none. What came up by
// less than noise may is cut at its highest where it goes down again by more than noise does.
func TestFillCutsAFall(t *testing.T) {
	at := func(mm ...float64) (ps []point) {
		for i, v := range mm {
			ps = append(ps, point{zero.Add(time.Duration(i) * time.Minute), v})
		}
		return ps
	}
	two := at(-1, -1, -1, -2, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1, -2, -2, -3, -3, -3, -3, -4, -4, -2, -1, 1, 2, 3, 4, 4, 3, 2, 2)
	for _, c := range []struct {
		name string
		ps   []point
		rise float64
		cut  int // where the newest begins
		fell float64
		told bool
	}{
		{"before the fill", two[:29], ebbRise, 0, 3, false},
		{"and after it", two, ebbRise, 35, 5, true},
		{"up by five, which may be noise, and down by six", at(-2, -2, -1, -1, 0, 0, 1, 1, 2, 3, 3, 4, 3, 2, 1, 0, 0, -2, -3, -4, -3), 5, 10, 6, true},
		{"up by five and down by two", at(-2, -2, -1, -1, 0, 0, 1, 1, 2, 3, 3, 3, 3, 2, 1, 1, 1), 5, 0, 2, false},
		{"never up", at(0, 0, 0, 0, 0, 0, 0, -1, -2, -3, -4, -5, -6, -7), 5, 0, 6, true},
	} {
		got, fell := falls(c.ps, c.rise)
		newest := got[len(got)-1]
		if newest[0] != c.ps[c.cut] || fell != c.fell {
			t.Errorf("%s: the newest begins with %v, want %v; fell %g, want %g", c.name, newest[0], c.ps[c.cut], fell, c.fell)
		}
		for i, ps := range got {
			got[i] = downward(ps)
		}
		p := falling
		p.noise, p.freedom = 0.2, waveKnown
		_, told := p.climb(time.Minute, 2.5, got...)
		if told != c.told {
			t.Errorf("%s: told %v, want %v", c.name, told, c.told)
		}
	}
}

// TestOneReadingIsNoClimb: of readings of two millimetres the last one lies above the others
// by chance, and the next one is as low as ever.
func TestOneReadingIsNoClimb(t *testing.T) {
	site := library()
	w := New(site)
	const digits = "1101111011121111101101011211111010111111221111200021200211201100121111102111211011010+0000+2011"
	mm := below(digits, 2)
	before := slices.Clone(mm[:60])
	mm = slices.Concat(before, before, mm)
	for i := time.Duration(0); i*aquarium.Step <= time.Duration(len(mm)-1)*30*time.Second; i++ {
		at := zero.Add(i * aquarium.Step)
		if d := i * aquarium.Step; d%(30*time.Second) == 0 {
			for id, v := range map[aquarium.SensorID]float64{"level": mm[d/(30*time.Second)], "topoff": 0} {
				w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: id}, At: at, Value: v})
			}
		}
		for _, x := range w.Tick(at) {
			if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.TopOffRunaway {
				t.Errorf("told after %v", i*aquarium.Step)
			}
		}
	}
}

// TestCoarseLevelMoves: a level that comes up by eleven millimetres an hour, read in steps
// of two with a millimetre of noise, and one that stands still. The median slope of the
// last quarter of an hour is nothing for both.
func TestCoarseLevelMoves(t *testing.T) {
	for _, c := range []struct {
		name, digits string
		lo, hi       float64 // mm/h
	}{
		{"comes up", "432333323223223213232323232221212121102211110111111101111100", 8, 14},
		{"stands", "111110111211211212111111110110111121211111111101112111111110", -stillClimbs, stillClimbs},
	} {
		s := &series{}
		for i, mm := range below(c.digits, 2) {
			s.points = append(s.points, point{zero.Add(time.Duration(i) * 30 * time.Second), mm})
		}
		var den tank
		den.vessel.step = 2
		v := &view{now: s.newest()}
		if median, _ := den.trend(s, v.now, climbWindow); median != 0 {
			t.Errorf("%s: the median slope is %g mm/h, want 0", c.name, median)
		}
		if got, ok := den.moves(v, s); !ok || got < c.lo || got > c.hi {
			t.Errorf("%s: moves %.1f mm/h, %v, want %g to %g", c.name, got, ok, c.lo, c.hi)
		}
	}
}
