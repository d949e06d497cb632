package detect

import (
	"math/rand/v2"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestSwitchInAnyOrder: in whatever order a switch's values come, its present
// stretch is the one they have in the order of time, as far as they are kept.
// What a watch can go back to is fed again in order; this is what it cannot.
func TestSwitchInAnyOrder(t *testing.T) {
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 2))
		var xs []aquarium.Sample
		on := 0.0
		for i := range 80 {
			if rng.Float64() < 0.15 {
				on = 1 - on
			}
			xs = append(xs, aquarium.Sample{At: zero.Add(time.Duration(i) * time.Minute), Value: on})
		}
		sw := aquarium.Sensor{ID: "valve", Quantity: aquarium.Switch, OnChange: seed%2 == 1}
		want, got := series{config: sw}, series{config: sw}
		for _, x := range xs {
			want.take(x.At, x.Value, x.Quality)
		}
		for i := range xs { // each within ten of its place
			j := min(len(xs)-1, i+rng.IntN(10))
			xs[i], xs[j] = xs[j], xs[i]
		}
		for _, x := range xs {
			got.take(x.At, x.Value, x.Quality)
		}
		if got.on != want.on || got.since != want.since || got.wasOn != want.wasOn {
			t.Fatalf("seed %d: on %v since %v, was on %v; want %v %v %v", seed, got.on, got.since.Sub(zero), got.wasOn.Sub(zero), want.on, want.since.Sub(zero), want.wasOn.Sub(zero))
		}
	}
}

// TestWasOn: a switch that is told by the clock was last on when it last said so, one that
// tells its changes until it said that it is off.
func TestWasOn(t *testing.T) {
	for _, c := range []struct {
		onChange bool
		want     time.Duration
	}{{false, 0}, {true, 7 * m}} {
		s := series{config: aquarium.Sensor{ID: "valve", Quantity: aquarium.Switch, OnChange: c.onChange}}
		for _, p := range []point{{zero.Add(-m), 0}, {zero, 1}, {zero.Add(7 * m), 0}, {zero.Add(20 * m), 0}} {
			s.take(p.at, p.v, aquarium.Good)
		}
		if s.wasOn != zero.Add(c.want) {
			t.Errorf("on change %v: last on at %v, want %v", c.onChange, s.wasOn.Sub(zero), c.want)
		}
	}
}

// TestSwitchOutOfOrderAcrossTicks: a valve that was open for a moment between
// two ticks, told only afterwards, begins its present stretch anew, and what
// counts from it with it; so does a pump's run.
func TestSwitchOutOfOrderAcrossTicks(t *testing.T) {
	site := library()
	key := func(id aquarium.SensorID) aquarium.SensorKey {
		return aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: id}
	}
	for _, late := range []time.Duration{20 * time.Second, 5 * m, 9 * m, 30 * m} {
		w := New(site)
		tell := func(id aquarium.SensorID, d time.Duration, v float64) {
			w.Observe(aquarium.Sample{Sensor: key(id), At: zero.Add(d), Value: v})
		}
		comes := 40*m + late
		for d := time.Duration(0); d <= 75*m; d += aquarium.Step {
			if d == comes { // out of order
				tell("valve", 40*m-5*time.Second, 1)
				tell("topoff", 40*m-5*time.Second, 0)
			}
			if d%(30*time.Second) == 0 {
				tell("valve", d, 0)
				tell("topoff", d, 1)
				tell("level", d, 0)
			}
			w.Tick(zero.Add(d))
		}
		x := w.places["atrium"]
		if want := zero.Add(40 * m); x.shutAt != want || !x.haveShut {
			t.Errorf("%v late: the valve counts as shut since %v, want 40m", late, x.shutAt.Sub(zero))
		}
		if want := zero.Add(40 * m); x.pump.since != want || !x.pump.on {
			t.Errorf("%v late: the pump's run counts since %v, want 40m", late, x.pump.since.Sub(zero))
		}
		if v := x.sensors["valve"]; v.wasOn != zero.Add(40*m-5*time.Second) {
			t.Errorf("%v late: the valve was last open at %v", late, v.wasOn.Sub(zero))
		}
	}
}

// TestHeldFlow: a flow that is told on change only, and stops, is told once; the filter
// is told to stand still within three minutes.
func TestHeldFlow(t *testing.T) {
	site := library()
	tank := &site.Tanks[0]
	for _, id := range []aquarium.SensorID{"flow-a", "flow-b"} {
		s := tank.Sensor(id)
		s.OnChange, s.Refresh = true, 15*m
	}
	w := New(site)
	say := func(id aquarium.SensorID, d time.Duration, v float64) {
		w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: tank.ID, Sensor: id}, At: zero.Add(d), Value: v})
	}
	told := time.Duration(0)
	for d := time.Duration(0); d <= 3*h; d += aquarium.Step {
		running := d < 2*h+20*time.Second
		if d%(5*m) == 0 && running {
			say("flow-a", d, 900+float64(d%(10*m))/1e9/10)
		}
		if d%(5*m) == 0 {
			say("flow-b", d, 900+float64(d%(10*m))/1e9/10)
		}
		if d == 2*h+20*time.Second {
			say("flow-a", d, 0)
		}
		for _, x := range w.Tick(zero.Add(d)) {
			if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.FilterStalled && told == 0 {
				told = d - 2*h - 20*time.Second
			}
		}
	}
	if told <= 0 || told > 3*m {
		t.Errorf("told after %v, want within 3 min", told)
	}
}

// TestWithin: however readings lie, so many are no newer than any time as counting
// gives.
func TestWithin(t *testing.T) {
	for name, gap := range map[string]func(r *rand.Rand) int64{
		"even":       func(*rand.Rand) int64 { return 10_000 },
		"stamped":    func(r *rand.Rand) int64 { return 9_900 + r.Int64N(200) },
		"on change":  func(r *rand.Rand) int64 { return 1 + r.Int64N(1<<r.IntN(21)) },
		"one outage": func(r *rand.Rand) int64 { return 10_000 + r.Int64N(40)/39*3_600_000 },
	} {
		rng := rand.New(rand.NewPCG(5, 8))
		for n := range 60 {
			ps := make([]point, n)
			at := zero
			for i := range ps {
				at += aquarium.Instant(gap(rng))
				ps[i].at = at
			}
			for range 40 {
				u := zero + aquarium.Instant(rng.Int64N(int64(at-zero)+20_000))
				want := 0
				for want < n && ps[want].at <= u {
					want++
				}
				if got := within(ps, u); got != want {
					t.Fatalf("%s: %d of %d, want %d", name, got, n, want)
				}
			}
			for i, p := range ps {
				if a, b := within(ps, p.at-1), within(ps, p.at); a != i || b != i+1 {
					t.Fatalf("%s: %d and %d around the %d-th of %d", name, a, b, i, n)
				}
			}
		}
	}
}
