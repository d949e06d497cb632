package sim

import (
	"testing"
	"time"
)

func TestGasFaults(t *testing.T) {
	lowest := 14.0
	k := start(Options{Faults: []Planned{{Fault: CO2Surge, At: at(9.5)}}})
	watch(k, "ph", hours(17), func(h time.Duration, v float64) { lowest = min(lowest, k.Truth().PH) })
	between(t, "lowest pH while the pressure runs up and the valve works", lowest, 6.0, 6.4)

	k, healthy := after(12, Planned{Fault: CO2ShutByHand, At: at(7)})
	between(t, "pH at noon with the valve shut by hand", must(t, k, "ph"), 7.1, 7.8)
	between(t, "the cylinder keeps its gas, kg more", must(t, k, "cylinder")-must(t, healthy, "cylinder"), 0.02, 0.2)

	k, _ = after(5*24+12, Planned{Fault: CO2LineBlocked, At: at(0), Strength: 0.19})
	between(t, "flow left on the sixth day", k.Truth().Gas, 0, 0.01)

	k, healthy = after(3*24, Planned{Fault: KHCrash, At: at(0)})
	between(t, "alkalinity lost in three days, dKH", healthy.Truth().KH-k.Truth().KH, 1.4, 1.6)
}

func TestElectrodeFaults(t *testing.T) {
	k, _ := after(9, Planned{Fault: PHShorted, At: at(8.5)})
	between(t, "shorted", must(t, k, "ph"), 6.98, 7.02)
	k.Advance(at(16))
	between(t, "and the controller doses on, pH in truth", k.Truth().PH, 5, 6.3)

	k, _ = after(16, Planned{Fault: PHOffset, At: at(0)})
	between(t, "read three tenths too high, the truth is as much too low", k.Truth().PH, 6.2, 6.4)

	seen := map[bool]bool{}
	for seed := range uint64(8) {
		k := start(Options{Seed: seed + 1, Faults: []Planned{{Fault: PHUnplugged, At: at(1)}}})
		lo, hi := 14.0, 0.0
		watch(k, "ph", hours(4), func(h time.Duration, v float64) {
			if h > hours(1.2) {
				lo, hi = min(lo, v), max(hi, v)
			}
		})
		full := lo > 13.9
		seen[full] = true
		if !full && hi-lo < 2 {
			t.Errorf("seed %d: an open input neither wanders nor lies at its end: %g to %g", seed, lo, hi)
		}
	}
	if len(seen) != 2 {
		t.Error("every open input does the same")
	}

	air, _ := after(7, Planned{Fault: PHInAir, At: at(1)})
	lo, hi := 14.0, 0.0
	watch(air, "ph", hours(20), func(_ time.Duration, v float64) { lo, hi = min(lo, v), max(hi, v) })
	between(t, "a drying film goes where it likes, pH", hi-lo, 0.5, 3)

	slow := start(Options{Faults: []Planned{{Fault: PHSlow, At: at(0), Strength: 40}}})
	lowest := 14.0
	watch(slow, "ph", hours(17), func(time.Duration, float64) { lowest = min(lowest, slow.Truth().PH) })
	between(t, "a slow electrode lets the control overshoot, lowest pH", lowest, 5.9, 6.45)

	ground := start(Options{Faults: []Planned{{Fault: PHGround, At: at(0)}}})
	on, off, n := 0.0, 0.0, [2]int{}
	watch(ground, "ph", hours(6), func(_ time.Duration, v float64) {
		x := v - ground.Truth().PH
		if ground.heats() {
			on, n[0] = on+x, n[0]+1
		} else {
			off, n[1] = off+x, n[1]+1
		}
	})
	between(t, "step with the heater, pH", on/float64(n[0])-off/float64(n[1]), 0.28, 0.32)
}
