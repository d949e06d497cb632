package proof

import (
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"reflect"
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/store"
	"lentic/store/ledger"
	"lentic/store/storetest"
)

var (
	base    = aquarium.At(time.Date(2031, 3, 2, 0, 0, 0, 0, time.UTC))
	sensors = []aquarium.SensorKey{
		{Site: "quillmere-library", Tank: "atrium", Sensor: "ph"},
		{Site: "quillmere-library", Tank: "atrium", Sensor: "water"},
		{Site: "hotel-sarnbrook", Tank: "lobby", Sensor: "ph"},
		{Site: "hotel-sarnbrook", Tank: "-", Sensor: "gw1/mains"},
		{Site: "velloway-physio", Tank: "room-2", Sensor: "level"},
	}
)

// subject is the store under test beside a model in memory, to which the same
// is done.
type subject struct {
	t    *testing.T
	seed uint64
	rnd  *rand.Rand
	path string
	now  aquarium.Instant // lentic's clock; readings come around it
	s    *store.Store
	m    *storetest.Memory
	// steps are how many were done.
	steps int
}

func (x *subject) clock() time.Time { return x.now.Time() }

func (x *subject) open() {
	s, err := store.Open(x.path, store.Options{Reserve: -1, Now: x.clock, Keep: -1})
	if err != nil {
		x.t.Fatal(err)
	}
	x.s = s
}

// batch is of any age and order: mostly what is new, sometimes long late, again
// or different from what was there.
func (x *subject) batch() (b aquarium.Batch) {
	b.Arrived = x.now
	late := x.rnd.IntN(6) == 0
	message := x.rnd.IntN(2) == 0
	for i := range 1 + x.rnd.IntN(60) {
		at := x.now.Add(-time.Duration(x.rnd.IntN(40)) * time.Second)
		if late {
			at = base + aquarium.Instant(x.rnd.Int64N(int64(x.now-base)+1))
		}
		if message {
			at = x.now.Add(time.Duration(i/len(sensors)) * 10 * time.Second)
		}
		r := aquarium.Reading{Sensor: sensors[x.rnd.IntN(len(sensors))], At: at.Floor(time.Second), Unit: "pH", Value: float64(x.rnd.IntN(900)) / 100}
		if message {
			r.Sensor = sensors[i%len(sensors)]
		}
		if x.rnd.IntN(100) == 0 {
			r.Sensor = x.newcomer()
		}
		switch x.rnd.IntN(30) {
		case 0:
			r.Unit = "mV"
		case 1:
			r.Retimed = true
		case 2:
			r.Value = math.Float64frombits(x.rnd.Uint64())
			if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) { // the wire refuses both
				r.Value = -0.5
			}
		}
		b.Readings = append(b.Readings, r)
	}
	return b
}

// newcomer is one of many sensors that are seldom heard of, so that new ones
// appear all the time.
func (x *subject) newcomer() aquarium.SensorKey {
	return aquarium.SensorKey{Site: "hotel-sarnbrook", Tank: "lobby", Sensor: aquarium.SensorID(fmt.Sprintf("n%d", x.rnd.IntN(500)))}
}

// step does one thing to both.
func (x *subject) step() {
	x.steps++
	switch n := x.rnd.IntN(100); {
	case n < 3:
		x.undone()
	case n < 5:
		x.shelves()
	case n < 60:
		b := x.batch()
		if n < 10 {
			x.odd(&b)
		}
		x.append(b)
	case n < 66:
		b := x.batch()
		x.same("replace", first(x.s.Replace(b, nil)), first(x.m.Replace(b, nil)))
	case n < 70:
		x.imports()
	case n < 85:
		x.now = x.now.Add(time.Duration(x.rnd.IntN(90)) * time.Minute)
		if _, err := x.s.Tidy(); err != nil {
			x.t.Fatal(err)
		}
	case n < 86:
		if err := x.s.Seal(); err != nil {
			x.t.Fatal(err)
		}
	case n < 90:
		x.document()
	case n < 91:
		if err := x.s.Close(); err != nil {
			x.t.Fatal(err)
		}
		x.open()
	default:
		x.compare()
	}
}

func first(o aquarium.Outcome, err error) any {
	if err != nil {
		return err
	}
	return o
}

func (x *subject) append(b aquarium.Batch) {
	mark := func(tx ledger.Tx, o aquarium.Outcome) error { return tx.Put("marks", "fresh", len(o.Fresh)) }
	x.same("append", first(x.s.Append(b, mark)), first(x.m.Append(b, mark)))
}

// imports brings several batches in past the log.
func (x *subject) imports() {
	replace := x.rnd.IntN(3) == 0
	var bs []aquarium.Batch
	for range 1 + x.rnd.IntN(4) {
		bs = append(bs, x.batch())
	}
	var want store.Tally
	known, put := bs, x.m.Append
	if replace {
		known, put = []aquarium.Batch{lastOf(bs)}, x.m.Replace
	}
	for _, b := range known {
		n := len(b.Readings)
		o, err := put(b, nil)
		if err != nil {
			x.t.Fatal(err)
		}
		want.Repeats += o.Repeats
		want.Conflicts += o.Conflicts
		want.Fresh += n - o.Repeats - o.Conflicts
	}
	got, err := x.s.Import(replace, func(add func(aquarium.Batch) error) error {
		for _, b := range bs {
			if err := add(b); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		x.t.Fatal(err)
	}
	// Of readings for one time within an import each is held against the one
	// before it, so repeats and conflicts may fall otherwise; none is missed.
	if replace {
		return
	}
	x.same("import", [2]int{got.Fresh, got.Repeats + got.Conflicts}, [2]int{want.Fresh, want.Repeats + want.Conflicts})
}

// lastOf is what an import that replaces comes to before it is held against what
// is stored: of several values for one time the last.
func lastOf(bs []aquarium.Batch) (all aquarium.Batch) {
	m := storetest.NewMemory()
	for _, b := range bs {
		if _, err := m.Replace(b, nil); err != nil {
			panic(err) // in memory nothing fails
		}
	}
	for _, k := range m.Sensors() {
		if err := m.Window(k, 0, math.MaxInt64, func(r aquarium.Reading) bool { all.Readings = append(all.Readings, r); return true }); err != nil {
			panic(err)
		}
	}
	return all
}

func (x *subject) document() {
	k, v := fmt.Sprint(x.rnd.IntN(20)), x.rnd.IntN(1000)
	for _, l := range []ledger.Ledger{x.s, x.m} {
		err := l.Update(func(tx ledger.Tx) error {
			if v%5 == 0 {
				return tx.Delete("alarms", k)
			}
			return tx.Put("alarms", k, v)
		})
		if err != nil {
			x.t.Fatal(err)
		}
	}
}

// compare asks both the same.
func (x *subject) compare() {
	k := sensors[x.rnd.IntN(len(sensors))]
	if x.rnd.IntN(3) == 0 {
		k = x.newcomer()
	}
	from := base + aquarium.Instant(x.rnd.Int64N(int64(x.now-base)+1))
	to := from.Add(time.Duration(x.rnd.IntN(3*24*60)) * time.Minute)
	if x.rnd.IntN(20) == 0 {
		from, to = 0, x.now*2
	}
	x.sameReadings(k, window(x.t, x.s, k, from, to), window(x.t, x.m, k, from, to))
	x.same("sensors", x.s.Sensors(), x.m.Sensors())
	r1, ok1 := x.s.Latest(k)
	r2, ok2 := x.m.Latest(k)
	x.same("latest", []any{r1, ok1}, []any{r2, ok2})
	r1, ok1 = x.s.First(k)
	r2, ok2 = x.m.First(k)
	x.same("first", []any{r1, ok1}, []any{r2, ok2})
	x.same("documents", documents(x.t, x.s), documents(x.t, x.m))
	x.sums(k, from, to)
}

// sums are compared with some room where values are no decimals.
func (x *subject) sums(k aquarium.SensorKey, from, to aquarium.Instant) {
	width := []time.Duration{time.Minute, 10 * time.Minute, time.Hour, 24 * time.Hour}[x.rnd.IntN(4)]
	got, want := sumsOf(x.t, x.s, k, from, to, width), sumsOf(x.t, x.m, k, from, to, width)
	if len(got) != len(want) {
		x.t.Fatalf("sums of %s by %s: got %d, want %d", k, width, len(got), len(want))
	}
	for i, g := range got {
		w := want[i]
		room := 1e-9 * (math.Abs(w.Sum) + float64(w.Good)*max(math.Abs(w.Min), math.Abs(w.Max)))
		if d := math.Abs(g.Sum - w.Sum); d > room && !math.IsInf(room, 0) {
			x.t.Fatalf("sum of %s at %s: got %v, want %v", k, w.At, g.Sum, w.Sum)
		}
		g.Sum, w.Sum = 0, 0
		x.same("sum of "+k.String(), g, w)
	}
}

type reader interface {
	Window(aquarium.SensorKey, aquarium.Instant, aquarium.Instant, func(aquarium.Reading) bool) error
	Sums(aquarium.SensorKey, aquarium.Instant, aquarium.Instant, time.Duration, func(aquarium.Sum) bool) error
}

func window(t *testing.T, s reader, k aquarium.SensorKey, from, to aquarium.Instant) (rs []aquarium.Reading) {
	t.Helper()
	if err := s.Window(k, from, to, func(r aquarium.Reading) bool { rs = append(rs, r); return true }); err != nil {
		t.Fatal(err)
	}
	return rs
}

func sumsOf(t *testing.T, s reader, k aquarium.SensorKey, from, to aquarium.Instant, width time.Duration) (xs []aquarium.Sum) {
	t.Helper()
	if err := s.Sums(k, from, to, width, func(x aquarium.Sum) bool { xs = append(xs, x); return true }); err != nil {
		t.Fatal(err)
	}
	slices.SortFunc(xs, func(a, b aquarium.Sum) int {
		if a.At != b.At {
			return int(a.At - b.At)
		}
		return int(a.Unit[0]) - int(b.Unit[0])
	})
	return xs
}

func documents(t *testing.T, l ledger.Ledger) (docs []string) {
	t.Helper()
	err := l.View(func(tx ledger.Tx) error {
		for _, shelf := range []string{"alarms", "marks"} {
			if err := tx.Each(shelf, "", "", func(k string, doc []byte) bool { docs = append(docs, k+string(doc)); return true }); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return docs
}

func (x *subject) same(what string, got, want any) {
	x.t.Helper()
	if !reflect.DeepEqual(got, want) {
		x.t.Fatalf("seed %d, step %d, %s: got %.500s, want %.500s", x.seed, x.steps, what, fmt.Sprintf("%+v", got), fmt.Sprintf("%+v", want))
	}
}

// sameReadings says where two windows part.
func (x *subject) sameReadings(k aquarium.SensorKey, got, want []aquarium.Reading) {
	x.t.Helper()
	for i := range max(len(got), len(want)) {
		switch {
		case i >= len(got):
			x.same(fmt.Sprintf("reading %d of %s", i, k), nil, want[i])
		case i >= len(want):
			x.same(fmt.Sprintf("reading %d of %s", i, k), got[i], nil)
		case got[i] != want[i]:
			x.same(fmt.Sprintf("reading %d of %s", i, k), got[i], want[i])
		}
	}
}

// TestModel does random work to the store and to a model in memory, and both
// must answer the same: whatever the age and order of readings, whatever is
// sealed between, and across starts.
func TestModel(t *testing.T) {
	const each = 1500
	total := scaled(6_000, 1_000_000)
	done := 0
	for seed := *firstSeed; done < total; seed++ {
		x := &subject{t: t, seed: seed, rnd: rand.New(rand.NewPCG(seed, 8)), path: filepath.Join(quickDir(t), "lentic.db"), now: base, m: storetest.NewMemory()}
		x.m.Now = x.clock
		x.open()
		for range min(each, total-done) {
			x.step()
			done++
		}
		x.compare()
		if err := x.s.Check(); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		x.s.Close()
	}
	t.Logf("%d operations", done)
}
