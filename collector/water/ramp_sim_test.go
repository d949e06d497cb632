package water_test

import (
	"errors"
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/sim"
	"lentic/collector/water"
)

// island is a tank whose CO2 is dosed from eight on.
func island() aquarium.Tank {
	hours := aquarium.Span{From: 8 * 60, To: 17 * 60}
	lights := aquarium.Span{From: 10 * 60, To: 18 * 60}
	return aquarium.Tank{
		ID: "atrium", Size: aquarium.Size{LengthCM: 150, WidthCM: 60, FillCM: 52, DisplacedL: 40}, AlkalinityDKH: 4, Lights: &lights,
		Sensors: []aquarium.Sensor{{ID: "ph", Quantity: aquarium.PH}, {ID: "water", Quantity: aquarium.Temperature}},
		Equipment: aquarium.Equipment{
			CO2:     &aquarium.CO2{PH: "ph", Target: 6.6, Band: 0.05, Hours: &hours},
			Filters: []aquarium.Filter{{ID: "a", RatedLH: 1100}, {ID: "b", RatedLH: 1100}},
			Heater:  &aquarium.Heater{Temperature: "water", Target: 24.5},
		},
	}
}

// readings are the pH of a pretend tank, a minute apart, while it says so.
func readings(k *sim.Tank, until aquarium.Instant, while func() bool) (r water.Ramp) {
	r.Alkalinity, r.Water = 4, 24.5
	begin := k.At()
	for at := begin; at < until && while(); {
		at = at.Add(time.Minute)
		k.Advance(at)
		for _, x := range k.Readings() {
			if x.Sensor.Sensor == "ph" {
				r.Readings = append(r.Readings, water.Acidity{After: at.Sub(begin), PH: water.PH(x.Value)})
			}
		}
	}
	return r
}

// A pretend tank's night and morning must say where its CO2 goes when the valve
// then sticks open for good: the fit knows nothing of the mixing, the electrode's
// lag and noise, the breath and the lights that the tank has.
func TestRampOfAPretendTank(t *testing.T) {
	told, within, worst := 0, 0, 0.0
	const tanks = 20
	for seed := range uint64(tanks) {
		midnight := aquarium.At(time.Date(2031, 3, 3, 0, 0, 0, 0, time.UTC))
		at := func(h float64) aquarium.Instant { return midnight.Add(time.Duration(h * float64(time.Hour))) }
		k := sim.New(island(), "quillmere-library", nil, sim.Options{Seed: seed + 1, Start: at(22)})
		night, err := readings(k, at(24+7.9), func() bool { return true }).Fit()
		if err != nil {
			t.Fatal(err)
		}
		k.Advance(at(24 + 8.25)) // until what is dosed is mixed and read
		morning, err := readings(k, at(24+10), func() bool { return k.Truth().ValveOpen }).FitWith(night.Exchange())
		if errors.Is(err, water.ErrUndetermined) {
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		plateau, err := morning.Plateau()
		if errors.Is(err, water.ErrUndetermined) {
			continue
		}
		told++
		stuck := sim.New(island(), "quillmere-library", nil, sim.Options{Seed: seed + 1, Start: at(22), Faults: []sim.Planned{{Fault: sim.CO2StuckOpen, At: at(24 + 8), Strength: 1}}})
		stuck.Advance(at(24 + 8 + 48)) // after a night without plants' uptake
		truth := water.MgPerL(stuck.Truth().CO2)
		if plateau.Lo <= truth && truth <= plateau.Hi {
			within++
		}
		worst = max(worst, math.Abs(float64(plateau.Best/truth-1)))
		t.Logf("seed %d: plateau %.0f mg/l (%.0f to %.0f), in truth %.0f; exchange %.3f", seed, float64(plateau.Best), float64(plateau.Lo), float64(plateau.Hi), float64(truth), float64(morning.Exchange().Best))
	}
	t.Logf("told %d of %d, the truth within the limits %d times, at worst %.1f %% off", told, tanks, within, 100*worst)
	if told < tanks*9/10 || within < told*9/10 || worst > 0.05 {
		t.Error("want 9 of 10 told, 9 of 10 of those within their limits, and none more than 5 % off")
	}
}
