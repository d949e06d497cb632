package sim

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

func TestServiceVisit(t *testing.T) {
	v := Visit{Kind: Service, At: at(34), Lasts: 90 * time.Minute}
	calibrated := false
	for seed := range uint64(6) {
		k := start(Options{Seed: seed + 1, Life: true, Visits: []Visit{v}})
		k.Advance(v.At.Add(-time.Minute))
		before := k.Truth()
		lowest, still, buffers := 0.0, 0, [2]bool{}
		watch(k, "ph", v.Until().Sub(midnight), func(h time.Duration, ph float64) {
			lowest = min(lowest, k.Truth().LevelMM)
			if k.Filter("a").Flow == 0 && k.Filter("b").Flow == 0 {
				still++
			}
			buffers[0] = buffers[0] || ph > 3.9 && ph < 4.1
			buffers[1] = buffers[1] || ph > 6.9 && ph < 7.1
		})
		x := k.Truth()
		between(t, "water out, share", (x.Water.Changed-before.Water.Changed)/428, 0.29, 0.51)
		between(t, "lowest level, mm", lowest, -250, -135)
		between(t, "level afterwards, mm", x.LevelMM, -1, 1)
		between(t, "minutes without filters", float64(still), 20, 62)
		between(t, "dKH", x.KH, 3.95, 4.05)
		between(t, "K colder", before.Temperature-x.Temperature, -0.5, 2.5)
		if buffers[0] != buffers[1] {
			t.Errorf("seed %d: in one buffer only", seed)
		}
		if buffers[0] {
			calibrated = true
			between(t, "what the electrode is off by after its calibration, pH", k.carbon.aged, -0.031, 0.031)
		}
	}
	if !calibrated {
		t.Error("nobody calibrated in six visits")
	}
}

func TestSmallVisits(t *testing.T) {
	for _, c := range []struct {
		kind  VisitKind
		lasts time.Duration
		check func(t *testing.T, k, alone *Tank, still [2]int)
	}{
		{Bucket, 6 * time.Minute, func(t *testing.T, k, alone *Tank, _ [2]int) {
			between(t, "litres poured", k.Truth().Litres-alone.Truth().Litres, 4.9, 12.1)
		}},
		{Cleaner, 30 * time.Minute, func(t *testing.T, _, _ *Tank, still [2]int) {
			between(t, "minutes of the unplugged filter", float64(max(still[0], still[1])), 29, 31)
			between(t, "minutes of the other", float64(min(still[0], still[1])), 0, 0)
		}},
		{Trim, 40 * time.Minute, func(t *testing.T, k, alone *Tank, still [2]int) {
			between(t, "minutes without filters", float64(still[0]), 26, 30)
			between(t, "plants left", k.carbon.plants/alone.carbon.plants, 0.69, 0.71)
		}},
		{Quick, 40 * time.Minute, func(t *testing.T, _, _ *Tank, still [2]int) {
			between(t, "minutes without filters", float64(still[0]), 3, 10)
		}},
	} {
		t.Run(string(c.kind), func(t *testing.T) {
			v := Visit{Kind: c.kind, At: at(34), Lasts: c.lasts}
			k, alone := start(Options{Visits: []Visit{v}}), start(Options{})
			k.Advance(v.At)
			still := [2]int{}
			watch(k, "water", v.Until().Sub(midnight)+time.Minute, func(time.Duration, float64) {
				for i := range k.filters {
					if k.filters[i].flow == 0 {
						still[i]++
					}
				}
			})
			alone.Advance(k.At())
			c.check(t, k, alone, still)
		})
	}
}

func TestHabit(t *testing.T) {
	h := Habit{ServiceDays: 14, Declared: 2, Undeclared: 1.5, Services: 0.4}
	kinds, declared, days := map[VisitKind]int{}, 0, 0.0
	for seed := range uint64(40) {
		vs := h.Visits(seed, london, midnight, at(90*24))
		days += 90
		for i, v := range vs {
			kinds[v.Kind]++
			if v.Declared {
				declared++
			}
			if c := aquarium.ClockOf(v.At.In(london)); c < 9*60 || c > 17*60 {
				t.Errorf("a visit at %v", c)
			}
			for _, o := range vs[:i] {
				if v.At < o.Until().Add(apart) && o.At < v.Until().Add(apart) {
					t.Errorf("two visits at once: %v and %v", v, o)
				}
			}
		}
	}
	all := 0
	for k, n := range kinds {
		all += n
		if n == 0 {
			t.Errorf("nobody came for %s", k)
		}
	}
	between(t, "declared visits a month", float64(declared)/days*30, 3, 4.4)
	between(t, "undeclared visits a month", float64(all-declared)/days*30, 1, 1.6)
	between(t, "kinds", float64(len(kinds)), 5, 5)
}
