package detect

import (
	"math/rand/v2"
	"testing"
	"time"
)

// TestLift: what strong plants take out in the light, and give back as their lamp goes out,
// is no electrode that was out of the water, which rises at once from where it lay still.
func TestLift(t *testing.T) {
	for _, c := range []struct {
		name string
		at   func(m int) float64 // until two hours
		want bool
	}{
		{"strong plants", func(m int) float64 { return 7.2 + 0.017*float64(max(0, m-40)) }, false},
		{"plants, and the electrode out of the water", func(m int) float64 { return 7.2 + 0.005*float64(m) + 0.1*float64(m/117) }, true},
	} {
		doubted := 0
		const trials = 100
		for seed := range uint64(trials) {
			d, rng := doubt{rough: 0.008}, rand.New(rand.NewPCG(seed, 5))
			for m := range 160 {
				v := c.at(m)
				if m >= 120 {
					v = c.at(116) - 0.012*float64(m-119)
				}
				d.follow(zero.Add(time.Duration(m)*time.Minute), v+0.006*rng.NormFloat64(), false, gasShut)
				if d.since != 0 {
					doubted++
					break
				}
			}
		}
		if c.want && doubted < trials*9/10 || !c.want && doubted > trials/50 {
			t.Errorf("%s: doubted in %d of %d, want %v", c.name, doubted, trials, c.want)
		}
	}
}
