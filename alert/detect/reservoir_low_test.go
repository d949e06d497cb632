package detect

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestStoreThatRefillsByItself: sixty litres that are refilled at fifteen, which is less
// than two days of what the tank uses: once that was seen twice it is no news, and a
// store that comes down further is.
func TestStoreThatRefillsByItself(t *testing.T) {
	const (
		turn  = 8 * 60 // minutes from one top-off to the next, of three litres
		turns = 20 * 3
	)
	var level, pump, store strings.Builder
	pump.WriteString("0m:0 ")
	litres := 40.0
	for k := range turns {
		at := k * turn
		fmt.Fprintf(&level, "%dm:2 %dm:-1.4 ", at, at+turn-3)
		fmt.Fprintf(&pump, "%dm:1 %dm:0 ", at+turn-3, at+turn)
		fmt.Fprintf(&store, "%dm:%g %dm:%g ", at, litres, at+turn-3, litres)
		if litres -= 3; litres <= 15 && k < 16*3 { // fifteen litres an hour come
			fmt.Fprintf(&store, "%dm:%g %dm:60 ", at+turn, litres, at+turn+4*(60-int(litres)))
			litres = 60
		}
	}
	site := library()
	withStores(&site.Tanks[0])
	site.Tanks[0].Equipment.Reservoir = &aquarium.Reservoir{Volume: "store", CapacityL: 60, ProductionLH: 15}
	s := script{paths: calm(), every: time.Minute, noise: 1, lasts: turns * turn * m}
	s.paths["level"], s.paths["topoff"], s.paths["store"] = level.String(), pump.String(), store.String()
	var told []float64 // days
	for _, x := range s.run(t, site) {
		if x.Identity.Cause == aquarium.ReservoirLow && x.Event == aquarium.Raised {
			told = append(told, x.At.Sub(zero).Hours()/24)
		}
	}
	if n := len(told); n < 1 || n > 2 || n == 2 && told[0] > 10 || told[n-1] < 18 || told[n-1] > 19 {
		t.Errorf("told on days %.1f, want once in the first ten at the most, and when the third filling does not come", told)
	}
}

// TestLowUntilItFills: what the top-off takes at once calls for the unit, whose water shows
// only by and by where no switch tells; one that brings none is told half an hour later.
func TestLowUntilItFills(t *testing.T) {
	for _, fills := range []bool{false, true} {
		site := library()
		withStores(&site.Tanks[0])
		site.Tanks[0].Equipment.Reservoir = &aquarium.Reservoir{Volume: "store", CapacityL: 80, ProductionLH: 7.5}
		s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 3 * h}
		s.paths["level"], s.paths["topoff"], s.paths["store"] = "0m:-3 60m:-3.8 75m:3.8", "0m:0 60m:1 75m:0", "0m:46 60m:46 75m:7 180m:7"
		if fills {
			s.paths["store"] = "0m:46 60m:46 75m:7 180m:20.1"
		}
		at := aquarium.Instant(0)
		for _, x := range s.run(t, site) {
			if x.Identity.Cause == aquarium.ReservoirLow && x.Event == aquarium.Raised {
				at = x.At
			}
		}
		if fills != (at == 0) || !fills && at.Sub(zero) > 115*m {
			t.Errorf("fills %v: told after %v", fills, at.Sub(zero))
		}
	}
}
