package detect

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// arrival is a sample and when it comes.
type arrival struct {
	aquarium.Sample
	comes aquarium.Instant
}

// disordered lets a share of the samples come late enough to be overtaken, up
// to most: out of order and not late.
func disordered(xs []aquarium.Sample, share float64, most time.Duration, seed uint64) []arrival {
	rng := rand.New(rand.NewPCG(seed, 5))
	as := make([]arrival, len(xs))
	for i, x := range xs {
		as[i] = arrival{x, x.At}
		if rng.Float64() < share {
			as[i].comes = x.At.Add(time.Duration(rng.Int64N(int64(most))))
		}
	}
	slices.SortStableFunc(as, func(a, b arrival) int { return int(a.comes - b.comes) })
	return as
}

// plateaus are pHs that stop at a value or creep, so that a slope lies beside
// its threshold for hours: what is judged there depends on every reading.
var plateaus = []scenario{
	{name: "level", paths: map[string]string{"ph": "0m:6.6 60m:6.55 120m:6.15 420m:6.15", "valve": "0m:1 60m:0"}, lasts: 7 * h},
	{name: "creeping up", paths: map[string]string{"ph": "0m:6.6 60m:6.55 120m:6.15 420m:6.35", "valve": "0m:1 60m:0"}, lasts: 7 * h},
	{name: "creeping faster", paths: map[string]string{"ph": "0m:6.6 60m:6.55 120m:6.15 420m:6.45", "valve": "0m:1 60m:0"}, lasts: 7 * h},
	{name: "turning slowly", paths: map[string]string{"ph": "0m:6.6 60m:6.55 120m:6.15 180m:6.13 300m:6.3 420m:6.7", "valve": "0m:1 60m:0"}, lasts: 7 * h},
	{name: "falling slowly", paths: map[string]string{"ph": "0m:6.7 60m:6.65 180m:6.37 420m:6.2", "valve": "0m:1 60m:0"}, lasts: 7 * h},
}

// TestOutOfOrder: whatever order readings come in, once those up to a tick have
// all come a watch has found what one that got them in order has, to the tick a
// delay counts from; and what is told is told within their delay and a step.
func TestOutOfOrder(t *testing.T) {
	for _, c := range append(all(), plateaus...) {
		t.Run(c.name, func(t *testing.T) {
			seeds := uint64(2)
			if slices.ContainsFunc(plateaus, func(p scenario) bool { return p.name == c.name }) {
				seeds = 6
			}
			for seed := range seeds {
				for _, o := range []struct {
					share float64
					most  time.Duration
				}{{0.1, 40 * time.Second}, {0.003, 9 * time.Minute}} {
					site, s := c.setUp()
					s.every, s.phase, s.seed = 15*time.Second, 4*time.Second, seed
					xs := s.samples(t, site)
					checkOrder(t, site, s, xs, disordered(xs, o.share, o.most, seed), o.most)
				}
			}
		})
	}
}

func checkOrder(t *testing.T, site aquarium.Site, s script, xs []aquarium.Sample, as []arrival, most time.Duration) {
	t.Helper()
	live, ordered := New(site), New(site)
	for _, e := range s.journal {
		live.Note(e)
		ordered.Note(e)
	}
	var got, want []aquarium.Transition
	settled := 0
	for d := time.Duration(0); d <= s.lasts; d += aquarium.Step {
		at := zero.Add(d)
		for ; len(as) > 0 && as[0].comes <= at; as = as[1:] {
			live.Observe(as[0].Sample)
		}
		for ; len(xs) > 0 && xs[0].At <= at; xs = xs[1:] {
			ordered.Observe(xs[0])
		}
		got, want = append(got, live.Tick(at)...), append(want, ordered.Tick(at)...)
		if !slices.ContainsFunc(as, func(a arrival) bool { return a.At <= at }) {
			settled++
			if why := differ(live, ordered); why != "" {
				t.Fatalf("at %v: %s\ngot%s\nwant%s", d, why, brief(got), brief(want))
			}
		}
	}
	if settled < 20 {
		t.Errorf("all readings were there at %d ticks only: nothing is shown", settled)
	}
	// A foot that has left the floor's sensor is not known to have left it.
	foot := s.paths["wet"] == "0m:0 60m:1 60m10s:0"
	if most < time.Minute && !foot {
		compareTold(t, got, want, most+aquarium.Step)
	}
}

// differ says where two watches have found different things; where they have
// told different things each keeps to its own.
func differ(a, b *Watch) string {
	for _, x := range b.order {
		y := a.states[x.id]
		if y == nil {
			return fmt.Sprint(x.id, ": not met")
		}
		if x.shown == y.shown && (x.trueFrom != y.trueFrom || x.falseAt != y.falseAt || x.stands != y.stands || x.silent != y.silent || x.seen != y.seen) {
			return fmt.Sprintf("%s: %+v, want %+v", x.id, y.verdict, x.verdict)
		}
	}
	for i, x := range b.tanks {
		got, want := a.tanks[i].course, x.course
		got.company.disturbed = want.company.disturbed // by what was told
		if !reflect.DeepEqual(got, want) {
			return fmt.Sprintf("tank: %+v, want %+v", got, want)
		}
	}
	for x := range b.every() {
		y := a.series(x.key)
		if y == nil && x.heard == 0 {
			continue // not met yet
		}
		if y == nil || y.gist != x.gist || !slices.Equal(y.points[max(0, len(y.points)-20):], x.points[max(0, len(x.points)-20):]) {
			if y == nil {
				return fmt.Sprint(x.key, ": not met")
			}
			return fmt.Sprintf("%s: %+v, want %+v", x.key, y.gist, x.gist)
		}
		if got, want := y.spells.List(), x.spells.List(); !slices.Equal(got, want) {
			return fmt.Sprintf("%s: spells %v, want %v", x.key, got, want)
		}
	}
	return ""
}

func compareTold(t *testing.T, got, want []aquarium.Transition, tolerance time.Duration) {
	t.Helper()
	// Getting worse is looked at in the last three readings, so that one of
	// them decides.
	worse := func(x aquarium.Transition) bool { return x.Event == aquarium.Worsened }
	got, want = slices.DeleteFunc(got, worse), slices.DeleteFunc(want, worse)
	if len(got) != len(want) {
		t.Errorf("told%s\nwant%s", brief(got), brief(want))
		return
	}
	for i := range got {
		if got[i].Event != want[i].Event || got[i].Identity != want[i].Identity || got[i].At.Sub(want[i].At).Abs() > tolerance {
			t.Errorf("told%s\nwant%s", brief(got), brief(want))
			return
		}
	}
}
