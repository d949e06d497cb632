package store

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// TestHead puts readings in every order and wants what a map would have.
func TestHead(t *testing.T) {
	for seed := range uint64(30) {
		rnd := rand.New(rand.NewPCG(seed, 5))
		h, want := &head{}, map[aquarium.Instant]aquarium.Reading{}
		units := 1 + rnd.IntN(3)
		if seed == 7 {
			units = 1000 // more than a chunk has readings
		}
		for i := range 2000 {
			at := aquarium.Instant(i * 10)
			if seed%3 > 0 && rnd.IntN(int(seed)) > 0 {
				at = aquarium.Instant(rnd.IntN(5000))
			}
			r := aquarium.Reading{At: at, Value: float64(rnd.IntN(900)) / 100, Retimed: seed%5 == 4 && rnd.IntN(9) == 0,
				Unit: aquarium.Unit(fmt.Sprint("u", rnd.IntN(units)))}
			p := record.PointOf(&r)
			h.put(&p)
			want[at] = r
		}
		var sorted []aquarium.Reading
		for _, r := range want {
			sorted = append(sorted, r)
			if got, ok := h.get(r.At); !ok || got != r {
				t.Fatalf("seed %d: at %d: got %v, %v; want %v", seed, r.At, got, ok, r)
			}
		}
		slices.SortFunc(sorted, func(a, b aquarium.Reading) int { return int(a.At - b.At) })
		if _, ok := h.get(19_991); ok {
			t.Errorf("seed %d: a reading that was never put", seed)
		}
		if h.len() != len(sorted) {
			t.Errorf("seed %d: got %d readings, want %d", seed, h.len(), len(sorted))
		}
		for range 20 {
			from := aquarium.Instant(rnd.IntN(20_000))
			to := from + aquarium.Instant(rnd.IntN(5000))
			x := &series{number: 1}
			got := x.readings(h.around(from, to).columns(1), from, to)
			i, _ := slices.BinarySearchFunc(sorted, from, byTime)
			j, _ := slices.BinarySearchFunc(sorted, to, byTime)
			if !slices.Equal(got, sorted[i:j]) {
				t.Fatalf("seed %d: from %d to %d: got %d readings, want %d, or they differ", seed, from, to, len(got), j-i)
			}
		}
		n := 0
		for _, c := range h.columns(1) {
			n += len(c.Times)
			for i, at := range c.Times {
				w := want[aquarium.Instant(at)]
				if w.Value != c.Values[i] || w.Unit != c.Unit || w.Retimed != (c.Retimed != nil && c.Retimed[i] == 1) {
					t.Fatalf("seed %d: column %q at %d: got %v, want %v", seed, c.Unit, at, c.Values[i], w)
				}
			}
			if !slices.IsSorted(c.Times) {
				t.Errorf("seed %d: column %q is out of order", seed, c.Unit)
			}
		}
		if n != len(sorted) {
			t.Errorf("seed %d: %d readings in columns, want %d", seed, n, len(sorted))
		}
	}
}

// TestStretches: every instant lies in exactly one stretch of a group, which
// begins on a whole ten minutes, and the groups spread over the hours.
func TestStretches(t *testing.T) {
	phases := map[int64]int{}
	for g := range uint32(72) {
		p := phase(g + 1)
		phases[int64(p)]++
		if p%slot != 0 || p < 0 || p >= stretch {
			t.Errorf("group %d: phase %s", g+1, p)
		}
		for _, at := range []aquarium.Instant{-1, 0, 1, 1_930_000_000_123} {
			start := stretchOf(g+1, at)
			if at < start || at >= start.Add(stretch) || stretchOf(g+1, start) != start || stretchOf(g+1, start-1) != start.Add(-stretch) {
				t.Errorf("group %d: %d lies in the stretch from %d", g+1, at, start)
			}
		}
	}
	if len(phases) < 60 {
		t.Errorf("72 groups share %d phases", len(phases))
	}
}
