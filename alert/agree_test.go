package alert

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"lentic/alert/detect"
	"lentic/collector/aquarium"
)

// stretchOf is one stretch of time in which a condition held.
type stretchOf struct {
	what     string
	from, to aquarium.Instant
}

// TestDeskAndReplayAgree: a day with gaps, a restart, a late batch, a visit and
// readings out of order leaves the same alarms in the ledger as Replay finds
// over what was stored. A reading out of order is judged with the tick after
// its arrival and by Replay with its own, so times may differ by the minute it
// was late. What a gateway buffers is known live only when all of it is over:
// what came and went within it is not told then, and what it changes is told
// with the first readings after it, while Replay finds each in its place. So both
// are compared before the batch, and from when the last of it has settled.
func TestDeskAndReplayAgree(t *testing.T) {
	watches := map[string]func(aquarium.Site) watch{"thresholds": newSimple, "detect": newWatch}
	for name, w := range watches {
		for seed := range uint64(12) {
			t.Run(fmt.Sprint(name, " ", seed), func(t *testing.T) { checkAgreement(t, w, seed) })
		}
	}
}

func checkAgreement(t *testing.T, factory func(aquarium.Site) watch, seed uint64) {
	rng := rand.New(rand.NewPCG(seed, 1))
	inWorld(t, func(w *world) {
		w.watch = factory
		s := &w.setup.Sites[0]
		s.Tanks[0].Equipment.Filters[0].RatedLH, s.Tanks[0].Equipment.Filters[1].RatedLH = 1100, 1100
		s.Tanks[0].Limits.PH = &aquarium.Range{Lo: 6.2, Hi: 8.4}
		w.up()
		begin := w.at()
		buffered := day(w, rng)
		w.pass(5 * time.Minute)
		end, _ := w.desk.Judged(library)

		journal := w.desk.Journal(library, "", 0, 0)
		var want []stretchOf
		open := map[aquarium.Identity]aquarium.Instant{}
		r := replay{watch: factory(w.setup.Sites[0]), site: w.setup.Sites[0], journal: journal, from: begin.Add(-grace).Floor(aquarium.Step), to: end}
		r.samples = func(yield func(aquarium.Sample) bool) {
			if err := Samples(w.history, r.site, nil, begin.Add(-detect.Memory), end+1, yield); err != nil {
				t.Error(err)
			}
		}
		r.run(func(x aquarium.Transition) {
			switch x.Event {
			case aquarium.Returned:
				want = append(want, stretchOf{nameOf(x.Identity), open[x.Identity], x.At})
				delete(open, x.Identity)
			case aquarium.Renamed:
				old := x.Identity
				old.Cause = x.From
				open[x.Identity] = open[old]
				delete(open, old)
			default:
				if _, ok := open[x.Identity]; !ok {
					open[x.Identity] = x.At
				}
			}
		})
		for id, at := range open {
			want = append(want, stretchOf{nameOf(id), at, 0})
		}
		buffered.until = buffered.until.Add(settled)
		compare(t, outside(ledgerStretches(w), buffered), outside(want, buffered))
	})
}

// day sends a reading a minute of three sensors, and lets happen what happens.
func day(w *world, rng *rand.Rand) (buffered span) {
	flow := map[aquarium.SensorID]float64{"flow-a": 900, "flow-b": 900}
	var held []aquarium.Reading
	send := func(id aquarium.SensorID, at aquarium.Instant, v float64) { w.read(id, at, v) }
	for m := range 600 {
		w.pass(time.Minute)
		switch {
		case m == 120:
			w.down()
			w.pass(3 * time.Minute)
			w.up()
		case m == 300:
			if _, err := w.desk.StartVisit(tankKey, 40*time.Minute, "keeper", ""); err != nil {
				w.t.Fatal(err)
			}
		}
		for _, id := range []aquarium.SensorID{"flow-a", "flow-b"} { // in an order: the day is the seed's
			if rng.Float64() < 0.02 {
				flow[id] = 900 - flow[id]
			}
		}
		for _, id := range []aquarium.SensorID{"flow-a", "flow-b", "ph"} {
			v, at := flow[id]+rng.Float64(), w.at()
			if id == "ph" {
				v = 6.6 + 0.02*rng.Float64()
			}
			switch {
			case m >= 400 && m < 440 && id != "ph": // buffered in the gateway
				held = append(held, aquarium.Reading{Sensor: sensor(id), At: at, Value: v})
			case rng.Float64() < 0.05: // a gap
			case rng.Float64() < 0.05: // out of order
				w.pass(25 * time.Second)
				send(id, at, v)
			default:
				send(id, at, v)
			}
		}
		switch m {
		case 400:
			buffered.from = w.at()
		case 440:
			buffered.until = w.at().Add(time.Minute)
			for _, r := range held {
				send(r.Sensor.Sensor, r.At, r.Value)
			}
		}
	}
	return buffered
}

func nameOf(i aquarium.Identity) string { return string(i.Cause) + " " + string(i.Equipment) }

func ledgerStretches(w *world) []stretchOf {
	as, err := w.desk.Alarms(Filter{})
	if err != nil {
		w.t.Fatal(err)
	}
	var ss []stretchOf
	for _, a := range as {
		for _, s := range spans(&a) {
			ss = append(ss, stretchOf{nameOf(a.Identity), s.from, s.until})
		}
	}
	return ss
}

// settled is how long after a batch all that it changed has been told, all-clears too.
const settled = 10 * time.Minute

// outside cuts out of the stretches what lies within the span.
func outside(ss []stretchOf, hole span) []stretchOf {
	var out []stretchOf
	for _, s := range ss {
		if s.from < hole.from {
			before := s
			if before.to == 0 || before.to > hole.from {
				before.to = hole.from
			}
			out = append(out, before)
		}
		if s.to == 0 || s.to > hole.until {
			s.from = max(s.from, hole.until)
			out = append(out, s)
		}
	}
	return out
}

// compare pairs the stretches of both in the order of their times.
func compare(t *testing.T, got, want []stretchOf) {
	t.Helper()
	order := func(a, b stretchOf) int { return cmp.Or(cmp.Compare(a.what, b.what), cmp.Compare(a.from, b.from)) }
	slices.SortFunc(got, order)
	slices.SortFunc(want, order)
	if len(got) != len(want) || len(want) == 0 {
		t.Errorf("the desk has %d, replay finds %d:\n%v\n%v", len(got), len(want), got, want)
		return
	}
	for i := range got {
		if got[i].what != want[i].what || !near(got[i].from, want[i].from) || !near(got[i].to, want[i].to) {
			t.Errorf("%d: the desk has %v, replay finds %v", i, got[i], want[i])
		}
	}
}

func near(a, b aquarium.Instant) bool {
	d := a.Sub(b)
	return d >= -time.Minute && d <= time.Minute
}
