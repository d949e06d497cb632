package detect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// zero is when every script begins: a Sunday, midnight in London.
var zero = aquarium.At(time.Date(2031, 3, 2, 0, 0, 0, 0, time.UTC))

// script is a few hours of a site in a form that can be read: for each sensor
// a path of "time:value" points. Values in between lie on the line for probes
// and hold for switches; "time:-" begins a gap.
type script struct {
	paths   map[string]string
	every   time.Duration
	phase   time.Duration // readings are taken so long after each whole every
	noise   float64       // share of a quantity's usual noise
	lasts   time.Duration
	journal []aquarium.Entry
	remote  map[string]string // a gateway's items
	shuffle uint64            // not 0: the order within a tick
	seed    uint64            // of the noise
}

// knot is one point of a path.
type knot struct {
	at  time.Duration
	v   float64
	gap bool
}

func parsePath(t testing.TB, p string) []knot {
	t.Helper()
	var ks []knot
	for _, f := range strings.Fields(p) {
		at, v, ok := strings.Cut(f, ":")
		d, err := time.ParseDuration(at)
		if !ok || err != nil {
			t.Fatalf("path %q: %q is no time:value", p, f)
		}
		k := knot{at: d, gap: v == "-"}
		if !k.gap {
			if k.v, err = strconv.ParseFloat(v, 64); err != nil {
				t.Fatalf("path %q: %v", p, err)
			}
		}
		ks = append(ks, k)
	}
	return ks
}

// at is the path's value, false in a gap.
func at(ks []knot, d time.Duration, hold bool) (float64, bool) {
	i := 0
	for i+1 < len(ks) && ks[i+1].at <= d {
		i++
	}
	k := ks[i]
	if k.gap {
		return 0, false
	}
	if hold || i+1 == len(ks) || ks[i+1].gap || d < k.at {
		return k.v, true
	}
	n := ks[i+1]
	return k.v + (n.v-k.v)*float64(d-k.at)/float64(n.at-k.at), true
}

// usual is the noise and resolution of each quantity's common probes: common
// practice, no source.
var usual = map[aquarium.Quantity][2]float64{
	aquarium.PH: {0.004, 0.01}, aquarium.Temperature: {0.03, 0.1}, aquarium.Level: {0.3, 1}, aquarium.Flow: {8, 10}, aquarium.Gas: {8, 1},
}

// samples are the script's readings in the order of time.
func (s script) samples(t testing.TB, site aquarium.Site) []aquarium.Sample {
	t.Helper()
	rng := rand.New(rand.NewPCG(7, 7+s.seed))
	var out []aquarium.Sample
	type probe struct {
		key aquarium.SensorKey
		q   aquarium.Quantity
		ks  []knot
	}
	var probes []probe
	for i := range site.Tanks {
		for _, c := range site.Tanks[i].Sensors {
			if p, ok := s.paths[string(c.ID)]; ok {
				probes = append(probes, probe{aquarium.SensorKey{Site: site.ID, Tank: site.Tanks[i].ID, Sensor: c.ID}, c.Quantity, parsePath(t, p)})
			}
		}
	}
	for id, p := range s.remote {
		q := aquarium.Switch
		if strings.HasSuffix(id, aquarium.GatewayClock) {
			for _, k := range parsePath(t, p) { // one record each, no series
				out = append(out, aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: aquarium.SiteWide, Sensor: aquarium.SensorID(id)}, At: zero.Add(k.at), Value: k.v})
			}
			continue
		}
		probes = append(probes, probe{aquarium.SensorKey{Site: site.ID, Tank: aquarium.SiteWide, Sensor: aquarium.SensorID(id)}, q, parsePath(t, p)})
	}
	slices.SortFunc(probes, func(a, b probe) int { return strings.Compare(a.key.String(), b.key.String()) })
	for d := s.phase; d <= s.lasts; d += s.every {
		for _, p := range probes {
			v, ok := at(p.ks, d, p.q == aquarium.Switch)
			if !ok {
				continue
			}
			if u := usual[p.q]; u[1] > 0 && s.noise > 0 {
				if v != 0 || p.q != aquarium.Flow {
					v += rng.NormFloat64() * u[0] * s.noise
				}
				v = math.Round(v/u[1]) * u[1]
			}
			out = append(out, aquarium.Sample{Sensor: p.key, At: zero.Add(d), Value: v})
		}
	}
	slices.SortStableFunc(out, func(a, b aquarium.Sample) int { return int(a.At - b.At) })
	return out
}

// run ticks through the script.
func (s script) run(t testing.TB, site aquarium.Site) []aquarium.Transition {
	t.Helper()
	w := New(site)
	for _, e := range s.journal {
		w.Note(e)
	}
	return s.play(w, s.samples(t, site), 0, s.lasts)
}

// play gives w the samples in (from, to] and ticks.
func (s script) play(w *Watch, xs []aquarium.Sample, from, to time.Duration) []aquarium.Transition {
	rng := rand.New(rand.NewPCG(s.shuffle, 1))
	var ts []aquarium.Transition
	i := 0
	for i < len(xs) && xs[i].At <= zero.Add(from) && from > 0 {
		i++
	}
	for d := from; d <= to; d += aquarium.Step {
		if d == from && from > 0 {
			continue
		}
		j := i
		for j < len(xs) && xs[j].At <= zero.Add(d) {
			j++
		}
		batch := slices.Clone(xs[i:j])
		if s.shuffle != 0 {
			rng.Shuffle(len(batch), func(a, b int) { batch[a], batch[b] = batch[b], batch[a] })
		}
		for _, x := range batch {
			w.Observe(x)
		}
		i = j
		ts = append(ts, w.Tick(zero.Add(d))...)
	}
	return ts
}

// brief writes transitions as "event cause equipment priority @ time".
func brief(ts []aquarium.Transition) string {
	var b strings.Builder
	for _, x := range ts {
		fmt.Fprintf(&b, "\n  %v %s %s/%s %s %s", x.At.Sub(zero), x.Event, x.Identity.Cause, x.Identity.Equipment, x.Priority, x.Parent)
	}
	return b.String()
}

// want is an event that must come within (after, by].
type want struct {
	event     aquarium.Event
	cause     aquarium.Cause
	equipment aquarium.EquipmentKey
	after, by time.Duration
	priority  aquarium.Priority // 0: any
}

// check compares what came with what must have: all of it, in this order, and
// nothing else but what got worse or fell silent, or what its parent explained
// from beginning to end, unless the story is about that.
func check(t *testing.T, got []aquarium.Transition, ws []want) {
	t.Helper()
	about := func(es ...aquarium.Event) bool {
		return slices.ContainsFunc(ws, func(w want) bool { return slices.Contains(es, w.event) })
	}
	explained := about(aquarium.Suppressed)
	quiet := func(e aquarium.Event) bool {
		return e == aquarium.Worsened ||
			(e == aquarium.ReadingsStopped || e == aquarium.ReadingsBack) && !about(aquarium.ReadingsStopped)
	}
	hidden := map[aquarium.Identity]bool{}
	var told []aquarium.Transition
	for _, x := range got {
		was := hidden[x.Identity]
		hidden[x.Identity] = x.Event == aquarium.Suppressed
		if !quiet(x.Event) && (explained || !hidden[x.Identity] && !(was && x.Event == aquarium.Returned)) {
			told = append(told, x)
		}
	}
	if len(told) != len(ws) {
		t.Errorf("got %d transitions, want %d %v:%s", len(told), len(ws), ws, brief(got))
		return
	}
	for i, w := range ws {
		x := told[i]
		d := x.At.Sub(zero)
		if x.Event != w.event || x.Identity.Cause != w.cause || x.Identity.Equipment != w.equipment || w.priority != 0 && x.Priority != w.priority {
			t.Errorf("transition %d: want %v:%s", i, w, brief(got))
		} else if d <= w.after || d > w.by {
			t.Errorf("%s %s at %v, want within (%v, %v]:%s", x.Event, w.cause, d, w.after, w.by, brief(got))
		}
	}
}

// library is a site of one tank that has everything.
func library() aquarium.Site {
	sensor := func(id string, q aquarium.Quantity) aquarium.Sensor {
		return aquarium.Sensor{ID: aquarium.SensorID(id), Quantity: q}
	}
	tank := aquarium.Tank{
		ID: "atrium", Name: "Atrium island", Substrate: aquarium.Inert, AlkalinityDKH: 4,
		Size:   aquarium.Size{LengthCM: 150, WidthCM: 60, FillCM: 52, DisplacedL: 40},
		Limits: aquarium.Limits{PH: &aquarium.Range{Lo: 6.1, Hi: 8.4}, Temperature: &aquarium.Range{Lo: 22, Hi: 28}, CO2: 50},
		Sensors: []aquarium.Sensor{
			sensor("ph", aquarium.PH), sensor("water", aquarium.Temperature), sensor("level", aquarium.Level),
			sensor("flow-a", aquarium.Flow), sensor("flow-b", aquarium.Flow), sensor("valve", aquarium.Switch),
			sensor("topoff", aquarium.Switch), sensor("heat", aquarium.Switch), sensor("mains", aquarium.Switch), sensor("wet", aquarium.Switch),
			sensor("gas", aquarium.Gas),
		},
		Equipment: aquarium.Equipment{
			CO2:     &aquarium.CO2{PH: "ph", Target: 6.6, Band: 0.05, Valve: "valve"},
			TopOff:  &aquarium.TopOff{Level: "level", BandMM: 4, Pump: "topoff", RateLH: 90},
			Filters: []aquarium.Filter{{ID: "a", Flow: "flow-a", RatedLH: 1100}, {ID: "b", Flow: "flow-b", RatedLH: 1100, Stops: []aquarium.Stop{{At: 3 * 60, For: 10 * time.Minute}}}},
			Heater:  &aquarium.Heater{Temperature: "water", Switch: "heat", Target: 24.5},
			Power:   &aquarium.PowerSupply{Mains: "mains"},
			Floor:   &aquarium.Floor{Wet: "wet"},
			Room:    &aquarium.Room{CO2: "gas"},
		},
	}
	london, err := time.LoadLocation("Europe/London")
	if err != nil {
		london = time.UTC
	}
	return aquarium.Site{ID: "quillmere-library", Name: "Quillmere Library", Timezone: london, Tanks: []aquarium.Tank{tank}}
}

// calm is what every sensor of the library says when all is well.
func calm() map[string]string {
	return map[string]string{
		"ph": "0m:6.6", "water": "0m:24.5", "level": "0m:0", "flow-a": "0m:900", "flow-b": "0m:880",
		"valve": "0m:0", "topoff": "0m:0", "heat": "0m:0", "mains": "0m:1", "wet": "0m:0",
	}
}

// without takes a switch from site and script.
func without(site aquarium.Site, id aquarium.SensorID) aquarium.Site {
	t := &site.Tanks[0]
	t.Sensors = slices.DeleteFunc(slices.Clone(t.Sensors), func(s aquarium.Sensor) bool { return s.ID == id })
	if t.Equipment.CO2.Valve == id {
		c := *t.Equipment.CO2
		c.Valve = ""
		t.Equipment.CO2 = &c
	}
	if t.Equipment.TopOff.Pump == id {
		c := *t.Equipment.TopOff
		c.Pump = ""
		t.Equipment.TopOff = &c
	}
	return site
}
