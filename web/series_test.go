package web

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// naive is the series as its rules say it, reading by reading and, for held
// values, millisecond by millisecond.
func naive(q Query, vs []aquarium.Sample) Series {
	var in []aquarium.Sample
	for _, v := range vs {
		if v.At >= q.From && v.At < q.To {
			in = append(in, v)
		}
	}
	if len(in) < q.Points {
		var s Series
		for _, v := range in {
			s.push(v.At, v.Value, v.Value, v.Value, false)
		}
		return s
	}
	w := Width(q.From, q.To, q.Points)
	s := Series{Width: w}
	for b := q.From.Floor(w); b < q.To; b = b.Add(w) {
		var vals []float64
		for _, v := range in {
			if v.At >= b && v.At < b.Add(w) {
				vals = append(vals, v.Value)
			}
		}
		if len(vals) == 0 {
			continue
		}
		lo, hi, sum, n := math.Inf(1), math.Inf(-1), 0.0, 0.0
		for _, v := range vals {
			lo, hi, sum, n = min(lo, v), max(hi, v), sum+v, n+1
		}
		if q.Held {
			held, weight := 0.0, 0.0
			for ms := max(b, q.From); ms < min(b.Add(w), q.To, q.Until); ms++ {
				for i := len(vs) - 1; i >= 0; i-- {
					if vs[i].At <= ms {
						if ms < vs[i].At.Add(q.Hold) {
							held, weight = held+vs[i].Value, weight+1
							lo, hi = min(lo, vs[i].Value), max(hi, vs[i].Value)
						}
						break
					}
				}
			}
			if weight > 0 {
				sum, n = held, weight
			}
		}
		s.push(b, lo, sum/n, hi, false)
	}
	return s
}

func TestBucketedIsWhatItsRulesSay(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 11))
	for round := range 400 {
		from := aquarium.Instant(1_900_000_000_000 + rng.Int64N(100_000))
		q := Query{From: from, To: from + 1 + aquarium.Instant(rng.Int64N(9000)), Points: 1 + rng.IntN(12), Held: round%2 == 0,
			Hold: time.Duration(1+rng.IntN(3000)) * time.Millisecond}
		q.Until = min(q.To, from+aquarium.Instant(rng.Int64N(9000)))
		var vs []aquarium.Sample
		for at := from - 2000; at < q.To+500; at += 1 + aquarium.Instant(rng.Int64N(900)) {
			vs = append(vs, aquarium.Sample{At: at, Value: float64(rng.IntN(2)) + float64(rng.IntN(3))})
		}
		got, err := Bucketed(q, func(fn func(aquarium.Sample) bool) error {
			for _, v := range vs {
				fn(v)
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		want := naive(q, vs)
		if got.Width != want.Width || len(got.T) != len(want.T) {
			t.Fatalf("round %d: got %d of %s, want %d of %s", round, len(got.T), got.Width, len(want.T), want.Width)
		}
		if len(got.T) > q.Points {
			t.Fatalf("round %d: %d steps, at most %d are allowed", round, len(got.T), q.Points)
		}
		for i := range got.T {
			if got.T[i] != want.T[i] || got.Min[i] != want.Min[i] || got.Max[i] != want.Max[i] || math.Abs(got.Mean[i]-want.Mean[i]) > 1e-9 {
				t.Fatalf("round %d (held %v), step %d: got %v %v %v %v, want %v %v %v %v", round, q.Held, i,
					got.T[i], got.Min[i], got.Mean[i], got.Max[i], want.T[i], want.Min[i], want.Mean[i], want.Max[i])
			}
		}
	}
}

func TestWidth(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		from := aquarium.Instant(rng.Int64N(2_000_000_000_000))
		to := from + 1 + aquarium.Instant(rng.Int64N(1<<(1+rng.IntN(41))))
		points := 1 + rng.IntN(10000)>>rng.IntN(14)
		w := Width(from, to, points)
		if w < time.Second || w%time.Second != 0 {
			t.Fatalf("%d..%d in %d: width %s is no whole number of seconds", from, to, points, w)
		}
		if n := buckets(from, to, aquarium.Instant(w.Milliseconds())); n > points {
			t.Fatalf("%d..%d in %d: %d buckets", from, to, points, n)
		}
	}
}

func TestPoorValuesStandApart(t *testing.T) {
	q := Query{From: 1_900_000_000_000, To: 1_900_000_004_000, Points: 2, Until: 1_900_000_004_000}
	vs := []aquarium.Sample{{At: q.From, Value: 6.6}, {At: q.From + 500, Value: 99, Quality: aquarium.OutOfRange},
		{At: q.From + 2500, Value: 99, Quality: aquarium.OutOfRange}}
	got, _ := Bucketed(q, func(fn func(aquarium.Sample) bool) error {
		for _, v := range vs {
			fn(v)
		}
		return nil
	})
	if len(got.T) != 2 || got.Max[0] != 6.6 || got.Poor[0] || got.Mean[1] != 99 || !got.Poor[1] {
		t.Errorf("got %+v, want a bucket of 6.6 and a poor one of 99", got)
	}
}

// BenchmarkBucketed draws a year of readings every 10 s in 800 steps.
func BenchmarkBucketed(b *testing.B) {
	const year = 365 * 24 * 360
	q := Query{From: 1_900_000_000_000, Points: 800}
	q.To = q.From.Add(year * 10 * time.Second)
	for b.Loop() {
		if _, err := Bucketed(q, func(fn func(aquarium.Sample) bool) error {
			for i := range year {
				fn(aquarium.Sample{At: q.From + aquarium.Instant(i*10000), Value: 6.6})
			}
			return nil
		}); err != nil {
			b.Fatal(err)
		}
	}
}
