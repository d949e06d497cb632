package detect

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// gassed is a pH whose water has gas let in at that rate, in mg/l an hour, mixed
// within three minutes and found by an electrode of one: what the leaps are told
// from. The figures are common practice, no source.
func gassed(from, rate float64, every, lasts time.Duration) (ps []point) {
	co2, pending, electrode := math.Pow(10, 8.1-from), 0.0, from // at 4 dKH about 30 mg/l at 6.6
	for d := time.Duration(0); d <= lasts; d += aquarium.Step {
		h := aquarium.Step.Hours()
		pending += rate * h
		mixed := pending * h * 60 / 3
		pending -= mixed
		co2 += mixed
		electrode += (8.1 - math.Log10(co2) - electrode) * h * 60
		if d%every == 0 {
			ps = append(ps, point{zero.Add(d), math.Round(electrode*100) / 100})
		}
	}
	return ps
}

// stepping is a pH that moves by that much at half its time, with a lag in minutes.
func stepping(from, by, lag float64, every, lasts time.Duration) (ps []point) {
	for d := time.Duration(0); d <= lasts; d += every {
		v := from
		if m := (d - lasts/2).Minutes(); m >= 0 {
			v += by
			if lag > 0 {
				v -= by * math.Exp(-m/lag)
			}
		}
		ps = append(ps, point{zero.Add(d), math.Round(v*100) / 100})
	}
	return ps
}

// scattering is a pH at rest, read in steps of a fiftieth with noise of one.
func scattering(at float64, every, lasts time.Duration) (ps []point) {
	rng := rand.New(rand.NewPCG(1, 5))
	for d := time.Duration(0); d <= lasts; d += every {
		ps = append(ps, point{zero.Add(d), math.Round(50*(at+0.02*rng.NormFloat64())) / 50})
	}
	return ps
}

// TestLeapOrGas: what a current or a plug does at once is a leap, and what thirty
// times the usual flow of gas does is none.
func TestLeapOrGas(t *testing.T) {
	for _, every := range []time.Duration{10 * time.Second, time.Minute} {
		for _, c := range []struct {
			name string
			ps   []point
			want bool
		}{
			{"a current of 0.3", stepping(6.6, -0.3, 0, every, 20*time.Minute), true},
			{"the usual flow", gassed(6.6, 38, every, 40*time.Minute), false},
			{"ten times", gassed(6.6, 380, every, 8*time.Minute), false},
			{"thirty times", gassed(6.6, 1140, every, 8*time.Minute), false},
			{"noise of a coarse one that has come to rest far down", scattering(6.36, every, recent), false},
		} {
			s := &series{points: c.ps}
			s.settle()
			if got := s.leapt(c.ps[len(c.ps)-1].at, recent, 6.55); got != c.want {
				t.Errorf("%s, each %v: a leap %v, want %v", c.name, every, got, c.want)
			}
		}
	}
}

// TestSlackensOrGas: a film that dries on an electrode runs down and comes to rest within
// minutes; gas that comes steadily never does.
func TestSlackensOrGas(t *testing.T) {
	film := []point{} // by the minute
	for i, v := range []float64{7.12, 7.15, 7.18, 7.19, 7.19, 7.17, 7.13, 7.08, 7.03, 6.99, 6.95, 6.92, 6.89, 6.86, 6.84, 6.83, 6.82} {
		film = append(film, point{zero.Add(time.Duration(i) * m), v})
	}
	for _, c := range []struct {
		name string
		ps   []point
		want bool
	}{
		{"a film", film, true},
		{"half the flow by night", gassed(7.2, 19, m, 2*h), false},
		{"the usual flow by night", gassed(7.2, 38, m, 2*h), false},
		{"2.5 times by night", gassed(7.2, 95, m, 2*h), false},
		{"ten times", gassed(6.6, 380, m, h), false},
	} {
		var d doubt
		got := false
		for _, p := range c.ps {
			copy(d.last[1:], d.last[:riseOver-1])
			d.last[0], d.n = p.v, min(d.n+1, riseOver)
			got = got || d.slackens()
		}
		if got != c.want {
			t.Errorf("%s: slackens %v, want %v", c.name, got, c.want)
		}
	}
}

// TestSuddenOrGas: a probe that slips into the air falls within minutes; gas by
// night goes on, and is told from it within a quarter of an hour.
func TestSuddenOrGas(t *testing.T) {
	for _, every := range []time.Duration{10 * time.Second, time.Minute} {
		for _, c := range []struct {
			name  string
			ps    []point
			rough float64
			want  bool
		}{
			{"a probe slips into the air", stepping(7.2, -0.4, 1, every, 24*time.Minute), 0.04, true},
			{"a good one is calibrated", stepping(6.7, -0.1, 1, every, 24*time.Minute), 0.005, true},
			{"half the flow by night", gassed(7.2, 19, every, 12*time.Minute), 0.005, false},
			{"2.5 times by night", gassed(7.2, 95, every, 12*time.Minute), 0.005, false},
			{"eight times by night", gassed(7.2, 300, every, 14*time.Minute), 0.005, false},
		} {
			s := &series{points: c.ps}
			s.settle()
			if got := s.sudden(c.ps[len(c.ps)-1].at, c.rough); got != c.want {
				t.Errorf("%s, each %v: sudden %v, want %v", c.name, every, got, c.want)
			}
		}
	}
}

// TestHops: steps to and fro are known after three each way; calibrations, a
// controller's swing and a visit are none.
func TestHops(t *testing.T) {
	for _, c := range []struct {
		name    string
		at      func(m int) float64
		visited bool
		want    bool
	}{
		{"a heater's current, half an hour on and off", func(m int) float64 { return 6.6 + 0.15*float64(m/30%2) }, false, true},
		{"the same while somebody is there", func(m int) float64 { return 6.6 + 0.15*float64(m/30%2) }, true, false},
		{"two calibrations", func(m int) float64 { return 6.6 + 0.1*float64(min(m/200, 2)) }, false, false},
		{"a controller swings by a tenth in 15 minutes", func(m int) float64 { return 6.6 + 0.1*math.Abs(float64(m%30)-15)/15 }, false, false},
		{"steps of one way only", func(m int) float64 { return 6.6 + 0.12*float64(m/60) }, false, false},
	} {
		var d doubt
		known := false
		for m := range 600 {
			d.follow(zero.Add(time.Duration(m)*time.Minute), c.at(m), c.visited, gasMayCome)
			known = known || d.hops.since != 0
		}
		if known != c.want {
			t.Errorf("%s: known %v, want %v", c.name, known, c.want)
		}
	}
}

// TestDoubtOfAir: a fall that stops within minutes while no gas is let in, and a
// rise bit by bit that no water makes, are doubted; the same by gas is not, and
// neither is a calibration.
func TestDoubtOfAir(t *testing.T) {
	line := func(from, perMinute float64, minutes int) func(m int) float64 {
		return func(m int) float64 { return from + perMinute*float64(min(m, minutes)) }
	}
	for _, c := range []struct {
		name string
		at   func(m int) float64
		gas  gasIs
		want bool
	}{
		{"down by 0.3 in four minutes, and rests", line(7.7, -0.075, 4), gasShut, true},
		{"the same while gas may come", line(7.7, -0.075, 4), gasMayCome, false},
		{"down steadily, as gas brings it", func(m int) float64 { return 8.6 - math.Log10(8+1.6*float64(m)) }, gasShut, false},
		{"up by 0.25 within ten minutes", line(7.2, 0.025, 20), gasShut, true},
		{"up by 0.4 an hour", line(6.6, 0.4/60, 60), gasShut, false},
		{"a calibration by a tenth", line(7.2, -0.1, 1), gasShut, false},
	} {
		var d doubt
		doubted := false
		for m := range 40 {
			d.follow(zero.Add(time.Duration(m)*time.Minute), c.at(max(0, m-12)), false, c.gas)
			doubted = doubted || d.since != 0
		}
		if doubted != c.want {
			t.Errorf("%s: doubted %v, want %v", c.name, doubted, c.want)
		}
	}
}

// TestCalmAfterAVisit: a probe that was in the buffers is believed again within
// twenty minutes of somebody's leaving, a poor one too, which goes up and down by 0.02
// from reading to reading; one that was left in a buffer's glass is not.
func TestCalmAfterAVisit(t *testing.T) {
	for _, c := range []struct {
		name  string
		after func(m int) float64
		noise float64
		want  bool
	}{
		{"a usual probe", func(m int) float64 { return 6.9 - 0.002*float64(m) }, 0.004, true},
		{"a poor one", func(m int) float64 { return 6.9 - 0.002*float64(m) }, 0.02, true},
		{"a poor one that dries", func(m int) float64 { return 6.5 + 0.08*float64(m) }, 0.02, false},
	} {
		believed := 0
		const runs = 50
		for seed := range uint64(runs) {
			rng := rand.New(rand.NewPCG(seed, 3))
			var d doubt
			var raw [3]float64
			end := 0
			for m := range 60 {
				v := 6.7
				switch {
				case m >= 35:
					v = c.after(m - 35)
				case m >= 15 && m < 20:
					v = 4.01
				}
				for range 2 { // a reading each half minute
					raw = [3]float64{raw[1], raw[2], v + c.noise*rng.NormFloat64()}
				}
				if m < 2 {
					continue
				}
				d.rough += roughShare * (min(roughMost, math.Abs(raw[0]-2*raw[1]+raw[2])) - d.rough)
				d.follow(zero.Add(time.Duration(m)*time.Minute), middleOf(raw[0], raw[1], raw[2]), m < 35, gasMayCome)
				if m < 35 || d.since != 0 {
					end = 0
				} else if end == 0 {
					end = m
				}
			}
			if end != 0 && end <= 35+20 {
				believed++
			}
		}
		if got := believed >= runs*9/10; got != c.want || !c.want && believed > 0 {
			t.Errorf("%s: believed in %d of %d", c.name, believed, runs)
		}
	}
}

// TestBetweenBuffers: from the buffer to 7 a probe goes to the next one, and what it says as
// it comes back is the tank's again, however briskly the gas of the morning then has it.
func TestBetweenBuffers(t *testing.T) {
	var d doubt
	for m := range 60 {
		v := 7.57
		switch {
		case m >= 12 && m < 18:
			v = 7
		case m >= 18 && m < 23:
			v = 4.01
		case m >= 40:
			v -= 0.05 * float64(m-40)
		}
		d.follow(zero.Add(time.Duration(m)*time.Minute), v, m >= 10 && m < 33, gasMayCome)
		if m >= 25 && d.since != 0 {
			t.Fatalf("minute %d, pH %.2f: not believed, for %.2f is where it was", m, v, d.from)
		}
	}
}

// TestLateness: an electrode that turns twice as late on two days is late, one day
// is none, and what stays so for two weeks is usual.
func TestLateness(t *testing.T) {
	tank := newTank("", &aquarium.Tank{})
	v := &view{}
	learn := func(minutes float64) {
		next := *tank.learned
		next.Through = next.Through.Add(day)
		tank.turning.before, tank.turning.day = lates{}, next.Through
		tank.turning.before.take(minutes)
		learnLateness(v, tank, &next)
		tank.learned = &next
	}
	for range 6 {
		learn(3)
	}
	for i, c := range []struct {
		minutes float64
		want    bool
	}{{8, false}, {3.5, false}, {8, false}, {8.4, true}, {9, true}, {3, false}} {
		learn(c.minutes)
		if got := tank.lateSince() != 0; got != c.want {
			t.Errorf("day %d, %v min: late %v, want %v", i, c.minutes, got, c.want)
		}
	}
	for range 40 {
		learn(9)
	}
	if usual, _ := tank.learned.Lateness.usual(); usual != 9 || tank.lateSince() != 0 {
		t.Errorf("after six weeks: usual %v min, late since %v; want 9 and not late", usual, tank.lateSince())
	}
}

// TestTooLate: a pH in coarse steps seems to turn at once, and water takes some minutes
// to mix all the same.
func TestTooLate(t *testing.T) {
	for _, c := range []struct {
		minutes, usual float64
		want           bool
	}{{5, 0, false}, {6, 0, true}, {6.5, 3, false}, {7, 3, true}, {15, 8, false}, {16, 8, true}} {
		if got := tooLate(c.minutes, c.usual); got != c.want {
			t.Errorf("%v min where %v are usual: late %v, want %v", c.minutes, c.usual, got, c.want)
		}
	}
}

// TestTurnedAfter: how late the pH turns is told by how far it goes on falling, and of
// a slow fall only if that is late by more than a reading may be wrong, and took as long.
func TestTurnedAfter(t *testing.T) {
	usual := Lateness{Days: []float64{3, 3, 3, 3}}
	for _, c := range []struct {
		name    string
		perHour float64
		fall    float64 // pH, after the valve has shut
		within  float64 // min
		of      Lateness
		minutes float64
		known   bool
	}{
		{"a usual fall", 0.4, 0.02, 4, usual, 3, true},
		{"a usual fall, and late", 0.4, 0.1, 25, usual, 15, true},
		{"a usual fall, and noise within a minute", 0.3, 0.05, 1, usual, 1, true},
		{"a slow fall that turns at once", 0.15, 0.01, 6, usual, 0, false},
		{"a slow fall that may turn late", 0.15, 0.03, 15, usual, 0, false},
		{"a slow fall that goes on for an hour", 0.15, 0.165, 110, usual, 60, true},
		{"a noisy probe, as far down within minutes", 0.15, 0.06, 5, usual, 0, false},
		{"a fall that goes on for ten minutes, and noise", 0.1, 0.06, 10, usual, 0, false},
		{"the same, and nothing is known to be usual", 0.15, 0.165, 110, Lateness{}, 0, false},
	} {
		x := turning{of: zero, perHour: c.perHour, from: 6.55, low: 6.55 - c.fall}
		x.lowAt = zero.Add(time.Duration(c.within * float64(m)))
		minutes, known := x.turnedAfter(c.of)
		if known != c.known || known && math.Abs(minutes-c.minutes) > 1e-6 {
			t.Errorf("%s: got %v min, known %v; want %v, %v", c.name, minutes, known, c.minutes, c.known)
		}
	}
}

// shutting is how many minutes after a valve has shut an electrode of that lag, in
// minutes, turns, and how many are learned of it: gas is mixed within three minutes
// and leaves by so much of itself an hour.
func shutting(lag, mgLH, leaves float64) (turns, learned float64) {
	const dt = 10.0 / 3600
	co2, pending, electrode := 5.0, 0.0, 8.1-math.Log10(5.0) // at 4 dKH
	var seen []float64
	step := func(rate float64) {
		pending += rate * dt
		mixed := pending * dt * 60 / 3
		pending -= mixed
		co2 += mixed - leaves*(co2-0.5)*dt
		electrode += (8.1 - math.Log10(co2) - electrode) * dt * 60 / lag
		seen = append(seen, electrode)
	}
	for electrode > 6.58 {
		step(mgLH)
	}
	shut := len(seen)
	before := seen[shut-1-int(lateBefore/aquarium.Step)]
	low := shut
	for n := shut; electrode < seen[low-1]+lateTurned; n++ {
		if step(0); electrode < seen[low-1] {
			low = n + 1
		}
	}
	perMinute := (before - seen[shut-1]) / lateBefore.Minutes()
	return float64(low-shut) / 6, (seen[shut-1] - seen[low-1]) / perMinute
}

// TestMixingCoversALag: gas that is still on its way to a late electrode is none that
// a valve lets in.
func TestMixingCoversALag(t *testing.T) {
	for _, lag := range []float64{5, 10, 20, 45} { // minutes
		for _, gas := range []struct{ mgLH, leaves float64 }{{38, 0.3}, {60, 0.3}, {45, 0.4}, {38, 0.1}, {90, 0.3}} {
			turns, learned := shutting(lag, gas.mgLH, gas.leaves)
			if times := turns / learned; times < 2 || times > 3.5 || times > lateTurns {
				t.Errorf("a lag of %v min, %v mg/l an hour of which %v leave: turns after %.1f min, %.1f times the %.1f that are learned; want 2 to 3.5", lag, gas.mgLH, gas.leaves, turns, times, learned)
			}
		}
	}
}

// TestDoubtAboveTheNight: what moves as water does, and far above what this tank's water
// comes to without gas, is not believed for that.
func TestDoubtAboveTheNight(t *testing.T) {
	for _, c := range []struct {
		name  string
		night float64 // 0: not known
		want  bool    // believed within three hours
	}{{"the nights come to 7.2", 7.2, false}, {"they come to 7.8", 7.8, true}, {"they are not known", 0, true}} {
		d := doubt{night: c.night}
		for m := range 200 {
			ph := 7.15
			if m > 15 {
				ph = 7.65 + 0.1*float64(m-15)/60
			}
			d.follow(zero.Add(time.Duration(m)*time.Minute), ph, false, gasShut)
		}
		if believed := d.since == 0; believed != c.want {
			t.Errorf("%s: believed %v, want %v", c.name, believed, c.want)
		}
	}
}

// TestDoubtComesBack: a pH that was elsewhere for a minute or two and is back is believed,
// and what it read meanwhile makes no leap of its being back.
func TestDoubtComesBack(t *testing.T) {
	for _, away := range []int{1, 2, 3} {
		var d doubt
		for m := range 60 {
			ph := 6.43
			if m >= 20 && m < 20+away {
				ph = 5.63
			}
			if d.follow(zero.Add(time.Duration(m)*time.Minute), ph, false, gasShut); d.since != 0 && m > 30 {
				t.Errorf("away for %d min: doubted at %d min, from %.2f", away, m, d.from)
				break
			}
		}
	}
}
