package relation

import (
	"math"
	"math/rand/v2"
	"testing"
)

// pair is two sensors that follow one thing, each with a tenth of its own noise,
// and a third that follows nothing.
func pair(r *rand.Rand, shift float64) []float64 {
	both := r.NormFloat64()
	return []float64{20 + both + 0.1*r.NormFloat64() + shift, 5 + 2*(both+0.1*r.NormFloat64()-shift), r.NormFloat64()}
}

func rows(n int, row func() []float64) (xs [][]float64) {
	for range n {
		xs = append(xs, row())
	}
	return xs
}

// TestInControl: how many rows it takes to a false alarm, where nothing is wrong
// and all is learned from 400 rows that happened to come: on average not fewer
// than was asked for, give or take what 60 such stretches may miss it by.
func TestInControl(t *testing.T) {
	const asked, tries, most = 400, 60, 6000
	limit := Limit(3, 0.1, asked)
	for _, c := range []struct {
		name  string
		again float64 // how much of each row the next repeats
	}{{"independent", 0}, {"dependent", 0.8}} {
		sum := 0
		for seed := range uint64(tries) {
			r := rand.New(rand.NewPCG(seed, 1))
			was := make([]float64, 3)
			next := func() []float64 {
				for k, v := range pair(r, 0) {
					was[k] = c.again*was[k] + v
				}
				return append([]float64(nil), was...)
			}
			m, chart, err := Learn(rows(400, next), Options{Fast: 0.1, Limit: limit})
			if err != nil {
				t.Fatal(err)
			}
			n := 1
			for !chart.Take(m, next()).Out && n < most {
				n++
			}
			sum += n
		}
		mean := float64(sum) / tries
		t.Logf("%s: %.0f rows to a false alarm", c.name, mean)
		if mean < asked*(1-2/math.Sqrt(tries)) {
			t.Errorf("%s: %.0f rows to a false alarm, asked for %d", c.name, mean, asked)
		}
	}
}

// TestBrokenRelation: two sensors that went together go apart by half of what
// each varies by. Neither shows it alone; together they do at once, and the chart
// says which.
func TestBrokenRelation(t *testing.T) {
	const lasts = 60
	r := rand.New(rand.NewPCG(7, 7))
	was := rows(400, func() []float64 { return pair(r, 0) })
	now := rows(lasts, func() []float64 { return pair(r, 0.4) })
	m, c, err := Learn(was, Options{Fast: 0.1, RunLength: 1e4})
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for i, row := range now {
		if c.Take(m, row).Out && found == 0 {
			found = i + 1
		}
	}
	if found == 0 || found > 10 {
		t.Errorf("found after %d rows, want within 10", found)
	}
	if s := c.Shifts(m); s[0].Against < 5 || s[1].Against > -5 || math.Abs(s[2].Against) > 3 || s[0].By < 0.2 || s[1].By > -0.4 {
		t.Errorf("shifts %+v: want the first up against the others, the second down, the third neither", s)
	}
	for k := range 3 {
		alone := func(xs [][]float64) (out [][]float64) {
			for _, x := range xs {
				out = append(out, x[k:k+1])
			}
			return out
		}
		m, c, err := Learn(alone(was), Options{Fast: 0.1, RunLength: 1e4})
		if err != nil {
			t.Fatal(err)
		}
		for i, row := range alone(now) {
			if c.Take(m, row).Out {
				t.Errorf("sensor %d alone is out after %d rows: the test shows nothing", k, i)
				break
			}
		}
	}
}

// TestGiven: what a sensor that is not judged explains is in order, and what it
// does not is not.
func TestGiven(t *testing.T) {
	for _, c := range []struct {
		name        string
		room, water float64
		want        bool
	}{{"the room is warmer and the water with it", 0.5, 0.5, false}, {"the water is warmer and the room is not", 0, 1, true},
		{"the room is warmer than ever and the water too", 4, 5, false}} {
		r := rand.New(rand.NewPCG(3, 3))
		row := func(room, water float64) []float64 {
			air := r.NormFloat64()
			return []float64{air + room, air + water + 0.2*r.NormFloat64()}
		}
		m, chart, err := Learn(rows(400, func() []float64 { return row(0, 0) }), Options{Fast: 0.1, RunLength: 1e4, Given: []bool{true, false}})
		if err != nil {
			t.Fatal(err)
		}
		out := false
		for range 60 {
			out = chart.Take(m, row(c.room, c.water)).Out || out
		}
		if out != c.want {
			t.Errorf("%s: out %v, want %v", c.name, out, c.want)
		}
	}
}

// TestWandering: what wandered while it was learned from may wander on.
func TestWandering(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	at := 0.0
	row := func() []float64 { at += 0.1 * r.NormFloat64(); return []float64{at + r.NormFloat64(), r.NormFloat64()} }
	m, c, err := Learn(rows(400, row), Options{Fast: 0.1, RunLength: 1e4})
	if err != nil {
		t.Fatal(err)
	}
	for i := range 2000 {
		if c.Take(m, row()).Out {
			t.Fatalf("out after %d rows", i)
		}
	}
	if m.slow[0] <= m.slow[1] {
		t.Errorf("gains %v: what wanders is to be followed sooner", m.slow)
	}
}

func TestMissing(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	m, c, err := Learn(rows(400, func() []float64 { return pair(r, 0) }), Options{Fast: 0.1, RunLength: 1e4})
	if err != nil {
		t.Fatal(err)
	}
	for range 200 {
		row := pair(r, 0)
		row[1] = math.NaN()
		if c.Take(m, row).Out {
			t.Fatal("a sensor that is missing is no change")
		}
	}
}

func TestLearnRefuses(t *testing.T) {
	row := func(n int) [][]float64 { return rows(n, func() []float64 { return []float64{1, 2} }) }
	for _, c := range []struct {
		name string
		rows [][]float64
	}{
		{"nothing", nil}, {"no sensors", rows(400, func() []float64 { return nil })}, {"too few", row(100)},
		{"rows of different lengths", append(row(200), []float64{1})}, {"too many sensors", rows(400, func() []float64 { return make([]float64, Most+1) })},
	} {
		if m, _, err := Learn(c.rows, Options{Fast: 0.1}); err == nil || m != nil {
			t.Errorf("%s: no error", c.name)
		}
	}
}

// BenchmarkTake: a row of twelve sensors, as the hour of a tank is one.
func BenchmarkTake(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	row := func() []float64 {
		x := make([]float64, 12)
		for k := range x {
			x[k] = r.NormFloat64()
		}
		return x
	}
	m, c, err := Learn(rows(400, row), Options{Fast: 0.1, Limit: 30})
	if err != nil {
		b.Fatal(err)
	}
	x := row()
	b.ReportAllocs()
	for b.Loop() {
		c.Take(m, x)
	}
}
