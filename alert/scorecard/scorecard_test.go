package main

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lentic/alert/detect"
	"lentic/collector/aquarium"
	"lentic/collector/sim"
)

var update = flag.Bool("update", false, "write the golden files")

// TestWordsComeTrue: at every grade of every fault the tank itself gets to what
// the table says, so that no row is empty.
func TestWordsComeTrue(t *testing.T) {
	b := newBase(1, view{every: 10 * time.Second, switches: true})
	b.live()
	seen := map[string]bool{}
	for _, s := range scenarios() {
		if seen[s.name] {
			t.Errorf("%s: two of that name", s.name)
		}
		seen[s.name] = true
		if testing.Short() && s.slow {
			continue
		}
		for g, x := range s.grades {
			o := outcome{at: b.begins(s, g)}
			o.end = o.at.Add(s.lasts)
			b.await(s, b.plan(s, g, o.at), &o)
			if len(s.causes) > 0 && o.due == 0 {
				t.Errorf("%s, %s: the words never come true within %s", s.name, x.says, s.lasts)
			}
		}
	}
}

// TestEveryCauseHasADeadline: a row's, or one of those that package detect tests by
// stories, for no fault leads to them by itself.
func TestEveryCauseHasADeadline(t *testing.T) {
	has := map[aquarium.Cause]bool{}
	for _, s := range scenarios() {
		for _, c := range s.causes {
			has[c] = true
		}
	}
	for _, c := range []aquarium.Cause{aquarium.PHFalling, aquarium.PHLow, aquarium.PHHigh, aquarium.TemperatureHigh, aquarium.TemperatureLow} { // TestOwnDeadlines
		has[c] = true
	}
	for _, c := range detect.Judged() {
		if !has[c] {
			t.Errorf("%s has no deadline", c)
		}
	}
}

func TestCausesAreKnown(t *testing.T) {
	named := map[aquarium.Cause]bool{}
	for _, s := range scenarios() {
		for _, c := range append(s.causes, s.also...) {
			named[c] = true
			if !c.Known() {
				t.Errorf("%s: no cause %q", s.name, c)
			}
		}
		if len(s.causes) > 0 && len(s.by) == 0 {
			t.Errorf("%s has no deadline", s.name)
		}
	}
	for _, c := range aquarium.Causes() {
		if !c.Own() && !named[c] {
			t.Errorf("no fault leads to %s", c)
		}
	}
}

func TestClocks(t *testing.T) {
	config := full()
	start := midnight.Add(9 * hour)
	type truths func(minutes float64) sim.Truth
	for _, c := range []struct {
		name  string
		by    deadline
		every time.Duration
		truth truths
		want  time.Duration // due, from the start on; 0: never
	}{
		{"pH passes", overshoot, 10 * time.Second, func(m float64) sim.Truth {
			return sim.Truth{PH: 6.6 - m/100, CO2: 30, ValveOpen: true}
		}, 20*minute + 10*time.Second + 10*minute},
		{"CO2 passes before", overshoot, 10 * time.Second, func(m float64) sim.Truth {
			return sim.Truth{PH: 6.6, CO2: 40 + m, ValveOpen: true}
		}, 10*minute + 10*time.Second + 10*minute},
		{"falls though shut", overshoot, 10 * time.Second, func(m float64) sim.Truth {
			return sim.Truth{PH: 6.8 - m/200, CO2: 20}
		}, 20*minute + 20*time.Second},
		{"falls a little after the valve has shut", overshoot, 10 * time.Second, func(m float64) sim.Truth {
			return sim.Truth{PH: 6.6 - min(m, 5)/100, CO2: 30}
		}, 0},
		{"an hour in two halves", notDosing, time.Minute, func(m float64) sim.Truth {
			return sim.Truth{ValveOpen: m < 30 || m >= 90}
		}, 120*minute - 10*time.Second + 2*minute},
		{"an hour that is answered", notDosing, time.Minute, func(m float64) sim.Truth {
			return sim.Truth{ValveOpen: true, Gas: 1}
		}, 0},
		{"the pump runs on under its band", runaway, time.Minute, func(m float64) sim.Truth {
			return sim.Truth{Topping: true, LevelMM: -4} // 8 mm of 0.9 l at 90 l/h: 4.8 min
		}, 9*minute + 40*time.Second + 2*minute},
		{"below the band, with a top-off between", topOffFailed, 10 * time.Second, func(m float64) sim.Truth {
			if m >= 5 && m < 6 {
				return sim.Truth{LevelMM: 4}
			}
			return sim.Truth{LevelMM: -5}
		}, 16*minute + 20*time.Second},
		{"the rim comes near", drainNear, 10 * time.Second, func(m float64) sim.Truth {
			return sim.Truth{WasteMM: 100 + 10*m} // 380 at 28 min
		}, 23*minute + 20*time.Second},
		{"the pump comes before the rim does", drainNear, 10 * time.Second, func(m float64) sim.Truth {
			if m < 0.75 {
				return sim.Truth{WasteMM: 220 + 40*m}
			}
			return sim.Truth{WasteMM: 247 + 4*m, Draining: true} // 360 at 28.25 min
		}, 28*minute + 40*time.Second},
		{"refilling for twice the time", notRefilling, time.Minute, func(m float64) sim.Truth {
			return sim.Truth{Refilling: true, ReservoirL: 130, NormalLH: 70}
		}, 2*hour + 10*time.Second + 2*minute},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := c.by.start(c.every)
			for at := start; at < start.Add(4*hour); at = at.Add(aquarium.Step) {
				r.see(moment{at: at, began: start, truth: c.truth(at.Sub(start).Minutes()), config: &config, told: true})
			}
			got := time.Duration(0)
			if r.due != 0 {
				got = r.due.Sub(start)
			}
			if got != c.want {
				t.Errorf("due %s after, want %s (%s)", got, c.want, r.says)
			}
		})
	}
}

// TestTrial: a fault that has long been told is told here too, in every view,
// and one that is no fault is not.
func TestTrial(t *testing.T) {
	if testing.Short() {
		t.Skip("lives through 24 tank-days")
	}
	stall := chosen("filter stalls")[0]
	healthy := stall
	healthy.grades[0] = grade{"nothing", nothing}
	for _, v := range []view{{10 * time.Second, true, 0}, {time.Minute, false, 0}} {
		b := newBase(1, v)
		b.learn()
		if o := b.try(stall, 0); !o.inTime() || len(o.wrong) > 0 {
			t.Errorf("%s: %s", v, o.line(stall))
		}
		if o := b.try(healthy, 0); o.raised != 0 || o.due != 0 || len(o.wrong) > 0 {
			t.Errorf("%s: nothing was wrong, and told: %+v", v, o)
		}
	}
}

func TestExcused(t *testing.T) {
	config := full()
	for _, c := range []struct {
		name  string
		cause aquarium.Cause
		truth sim.Truth
		want  bool
	}{
		{"too warm in truth", aquarium.TemperatureHigh, sim.Truth{Temperature: 28.1}, true},
		{"only said to be", aquarium.TemperatureHigh, sim.Truth{Temperature: 25}, false},
		{"the store is low", aquarium.ReservoirLow, sim.Truth{ReservoirL: 20}, true},
		{"an electrode 0.15 off", aquarium.PHProbeDrift, sim.Truth{PH: 6.5, PHShown: 6.65, KH: 4}, true},
		{"alkalinity a third down", aquarium.PHProbeDrift, sim.Truth{PH: 6.5, PHShown: 6.5, KH: 2.7}, true},
		{"neither", aquarium.PHProbeDrift, sim.Truth{PH: 6.5, PHShown: 6.55, KH: 3.9}, false},
		{"never", aquarium.FilterStalled, sim.Truth{}, false},
	} {
		if got := excused(c.cause, moment{truth: c.truth, config: &config, tank: nil}); got != c.want {
			t.Errorf("%s: %s excused %v, want %v", c.name, c.cause, got, c.want)
		}
	}
}

// TestCard holds how trials and lives are summed up and printed.
func TestCard(t *testing.T) {
	stall := chosen("filter stalls")[0]
	quiet := chosen("nothing: the store is used")[0]
	r := newReport([]scenario{stall, quiet}, views(0, 10*time.Second, minute))
	v := r.views
	o := func(g int, v view, due, raised time.Duration) outcome {
		x := outcome{scenario: stall.name, grade: g, view: v, seed: 1000, at: split, due: split.Add(due), says: stall.by[0].says}
		if raised != 0 {
			x.raised, x.cause = split.Add(raised), aquarium.FilterStalled
		}
		return x
	}
	misnamed := o(1, v[1], 3*minute, 2*minute)
	misnamed.wrong, misnamed.names = []string{"power-lost/ after 1m0s"}, causes{aquarium.PowerLost}
	early, blind := o(2, v[2], 3*minute, 2*minute), o(2, v[3], 3*minute, 0)
	early.early, blind.blind = true, true
	r.add([]outcome{o(0, v[0], 3*minute, 2*minute), o(0, v[1], 3*minute, 5*minute), o(1, v[0], 3*minute, 0), misnamed, early, blind})
	wolf := outcome{scenario: quiet.name, view: v[0], seed: 1001, at: split, wrong: []string{"water-loss/top_off after 20m0s"}, names: causes{aquarium.WaterLoss}}
	r.add([]outcome{{scenario: quiet.name, view: v[0], seed: 1000, at: split}, wolf})
	r.addHealthy(life{months: 3, about: "atrium, 10s, seed 1000", page: 1, truths: map[aquarium.Cause]int{aquarium.ReservoirLow: 1},
		visits: map[sim.VisitKind]*visited{sim.Service: {visits: 2, alarms: 3, known: 2}},
		wolves: []told{{at: split, cause: aquarium.WaterLoss, priority: aquarium.High, words: "water-loss/top_off high, 3 l/h", declared: true}}})
	var b bytes.Buffer
	if r.print(&b, options{}) {
		t.Error("everything promised is said to be kept")
	}
	var lines []string
	for _, l := range strings.Split(b.String(), "\n") {
		lines = append(lines, strings.TrimRight(l, " "))
	}
	got, golden := strings.Join(lines, "\n"), filepath.Join("testdata", "card.txt")
	if *update {
		if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}
