package detect

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestNoisyStoreLosesNothing: what a run of the top-off has taken out of a store that is
// read to most of a litre either way has left for the tank, though three litres less have
// come there by two readings; out of one that is read to a tenth they have not.
func TestNoisyStoreLosesNothing(t *testing.T) {
	const begins, looks, step = 100 * 60, 105 * 60, 10 // s
	for _, x := range []struct {
		noise float64 // l
		told  bool
	}{{0.85, false}, {0.1, true}} {
		rng := rand.New(rand.NewPCG(1, 5))
		var store strings.Builder
		for at := 0; at <= looks; at += step {
			litres := 120 + x.noise*rng.NormFloat64()
			switch {
			case at > looks-3*step:
				litres = 111
			case at > begins-3*step:
				litres = 120.6 - 90*max(0, float64(at-begins))/3600
			}
			fmt.Fprintf(&store, "%ds:%.1f ", at, litres)
		}
		site := library()
		withStores(&site.Tanks[0])
		s := script{paths: calm(), every: step * time.Second, lasts: looks * time.Second}
		s.paths["store"], s.paths["topoff"] = store.String(), fmt.Sprintf("0m:0 %ds:1", begins)
		s.paths["level"] = fmt.Sprintf("0m:-6 %ds:-6 %ds:0.5", begins, looks)
		told := false
		for _, x := range s.run(t, site) {
			told = told || x.Identity.Cause == aquarium.WaterLoss
		}
		if told != x.told {
			t.Errorf("a store read to %g l: told %v", x.noise, told)
		}
	}
}
