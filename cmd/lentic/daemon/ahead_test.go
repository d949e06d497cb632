package daemon

import (
	"fmt"
	"slices"
	"testing"

	"lentic/collector/aquarium"
)

// TestAhead: what is read ahead is what there is, as far as it is asked for, and
// whoever reads has ended by then.
func TestAhead(t *testing.T) {
	for _, c := range []struct{ are, asked int }{
		{0, 1}, {1, 1}, {1, 9}, {batchSamples, batchSamples}, {batchSamples + 1, 2 * batchSamples}, {40 * batchSamples, 50 * batchSamples},
		{40 * batchSamples, 1}, {40 * batchSamples, batchSamples}, {40 * batchSamples, 20*batchSamples + 5},
	} {
		t.Run(fmt.Sprint(c), func(t *testing.T) {
			ended := false // without a lock: the race detector proves the order
			samples := func(yield func(aquarium.Sample) bool) {
				defer func() { ended = true }()
				for i := range c.are {
					if !yield(aquarium.Sample{At: aquarium.Instant(i)}) {
						return
					}
				}
			}
			var got []aquarium.Instant
			for s := range ahead(samples) {
				if got = append(got, s.At); len(got) == c.asked {
					break
				}
			}
			var want []aquarium.Instant
			for i := range min(c.are, c.asked) {
				want = append(want, aquarium.Instant(i))
			}
			if !slices.Equal(got, want) || !ended {
				t.Errorf("got %d samples, ended %v; want %d", len(got), ended, len(want))
			}
		})
	}
}
