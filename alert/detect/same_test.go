package detect

import (
	"fmt"
	"reflect"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestOrderWithinATick: however the samples of a tick are shuffled, and handed
// over twice, the transitions are the same to the last fact.
func TestOrderWithinATick(t *testing.T) {
	for _, c := range all() {
		t.Run(c.name, func(t *testing.T) {
			site, s := c.setUp()
			s.every = c.intervals()[0]
			s.phase = 3 * time.Second
			want := s.run(t, site)
			for seed := range uint64(3) {
				s.shuffle = seed + 1
				if got := s.run(t, site); !reflect.DeepEqual(got, want) {
					t.Fatalf("seed %d:%s\nwant%s", seed, brief(got), brief(want))
				}
			}
		})
	}
}

// TestRestart: a new watch that is warmed up and told what stands goes on as
// the one that never stopped, whenever that happens.
func TestRestart(t *testing.T) {
	for _, c := range all() {
		for _, every := range c.intervals() {
			t.Run(fmt.Sprint(c.name, "/", every), func(t *testing.T) {
				site, s := c.setUp()
				s.every = every
				xs := s.samples(t, site)
				whole := s.run(t, site)
				for stop := 5 * time.Minute; stop < s.lasts; stop += 29*time.Minute + 10*time.Second {
					w := New(site)
					for _, e := range s.journal {
						w.Note(e)
					}
					s.play(w, xs, 0, stop)
					w.Stand(standing(whole, zero.Add(stop)))
					got := s.play(w, xs, stop, s.lasts)
					var want []aquarium.Transition
					for _, x := range whole {
						if x.At > zero.Add(stop) {
							want = append(want, x)
						}
					}
					if brief(got) != brief(want) {
						t.Fatalf("stopped at %v:%s\nwant%s", stop, brief(got), brief(want))
					}
				}
			})
		}
	}
}

// standing are the alarms that stand at t, as a ledger keeps them.
func standing(ts []aquarium.Transition, at aquarium.Instant) []aquarium.Alarm {
	open := map[aquarium.Identity]aquarium.Alarm{}
	for _, x := range ts {
		if x.At > at {
			break
		}
		a := open[x.Identity]
		switch x.Event {
		case aquarium.Returned:
			delete(open, x.Identity)
			continue
		case aquarium.Renamed:
			old := x.Identity
			old.Cause = x.From
			a = open[old]
			delete(open, old)
		}
		a.Identity, a.Active, a.Priority, a.Evidence, a.Since = x.Identity, true, x.Priority, x.Evidence, x.Since
		switch x.Event {
		case aquarium.OutOfService:
			a.State = aquarium.StateOutOfService
		case aquarium.Suppressed:
			a.State = aquarium.StateSuppressed
		case aquarium.Raised:
			a.State = aquarium.Unacknowledged
		}
		open[x.Identity] = a
	}
	var as []aquarium.Alarm
	for _, a := range open {
		as = append(as, a)
	}
	return as
}

// TestRestartLongAfter: what stood long before the memory of readings begins
// goes on standing, and what is true and was not told is told at once.
func TestRestartLongAfter(t *testing.T) {
	site := library()
	id := aquarium.Identity{Site: site.ID, Tank: "atrium", Cause: aquarium.FilterStalled, Equipment: "a"}
	s := script{paths: calm(), every: time.Minute, lasts: 2 * h}
	s.paths["flow-a"] = "0m:-"
	w := New(site)
	xs := s.samples(t, site)
	s.play(w, xs, 0, h)
	w.Stand([]aquarium.Alarm{{Identity: id, Active: true, State: aquarium.Acknowledged, Priority: aquarium.Medium, Since: zero.Add(-48 * h)}})
	if got := s.play(w, xs, h, 2*h); len(got) != 0 {
		t.Errorf("a silent filter that stood:%s", brief(got))
	}
	s.paths["flow-a"] = "0m:0"
	w = New(site)
	xs = s.samples(t, site)
	s.play(w, xs, 0, h)
	w.Stand(nil)
	got := s.play(w, xs, h, 2*h)
	if len(got) != 1 || got[0].Event != aquarium.Raised || got[0].At != zero.Add(h+aquarium.Step) || got[0].Since >= zero.Add(10*m) {
		t.Errorf("a filter that stands still and nobody knows:%s", brief(got))
	}
}

// TestOnePHCrashIsOneAlarm: from the first sign to the bottom one alarm stands
// at a time, and it only ever changes its name.
func TestOnePHCrashIsOneAlarm(t *testing.T) {
	site := library()
	s := script{paths: calm(), every: 10 * time.Second, noise: 1, lasts: 8 * h}
	s.paths["ph"] = "0m:6.6 60m:6.55 120m:6.2 240m:5.8 300m:5.75 480m:6.7"
	s.paths["valve"] = "0m:1 60m:0"
	ts := s.run(t, site)
	rank := map[aquarium.Cause]bool{}
	for _, c := range chain {
		rank[c] = true
	}
	up, raises := 0, 0
	for _, x := range ts {
		if !rank[x.Identity.Cause] {
			continue
		}
		switch x.Event {
		case aquarium.Raised:
			up, raises = up+1, raises+1
		case aquarium.Returned:
			up--
		}
		if up > 1 {
			t.Errorf("two of the chain stand at %v:%s", x.At.Sub(zero), brief(ts))
		}
	}
	if raises != 1 || up != 0 {
		t.Errorf("%d raised, %d left standing:%s", raises, up, brief(ts))
	}
}

// TestFutureWaits: a reading of the future counts from its own time.
func TestFutureWaits(t *testing.T) {
	site := library()
	wet := aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: "wet"}
	w := New(site)
	w.Observe(aquarium.Sample{Sensor: wet, At: zero.Add(5 * m), Value: 1})
	w.Observe(aquarium.Sample{Sensor: wet, At: zero.Add(5*m + 10*time.Second), Value: 1})
	var raised time.Duration
	for d := time.Duration(0); d < 10*m; d += aquarium.Step {
		for _, x := range w.Tick(zero.Add(d)) {
			raised = x.At.Sub(zero)
		}
	}
	if raised < 5*m || raised > 5*m+20*time.Second {
		t.Errorf("raised at %v, want within 20 s of 5 min", raised)
	}
}

// TestOnlyGoodIsJudged: samples that cannot be right prove that the sensor
// lives, and after a while that it is not right; nothing else is told from them.
func TestOnlyGoodIsJudged(t *testing.T) {
	site := library()
	w := New(site)
	ph := aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: "ph"}
	for d := time.Duration(0); d < 2*h; d += time.Minute {
		w.Observe(aquarium.Sample{Sensor: ph, At: zero.Add(d), Value: 2, Quality: aquarium.OutOfRange})
		for _, x := range w.Tick(zero.Add(d)) {
			if x.Identity.Cause != aquarium.SensorImplausible || d < implausibleOn {
				t.Fatalf("%s", brief([]aquarium.Transition{x}))
			}
		}
	}
	if got := w.Interval(ph); got != time.Minute {
		t.Errorf("interval %v, want 1 min", got)
	}
}
