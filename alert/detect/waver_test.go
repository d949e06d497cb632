package detect

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// errors are by what readings err together, one after another.
type errors func(rng *rand.Rand) func() float64

// alikeForMinutes is a third of a millimetre, beside a millimetre of their own.
func alikeForMinutes(rng *rand.Rand) func() float64 {
	alike := 0.0
	return func() float64 {
		for range 10 {
			alike += -alike/400 + 0.025*rng.NormFloat64()
		}
		return alike + rng.NormFloat64()
	}
}

// keeping is 0.6 mm, of which each reading keeps so much.
func keeping(phi float64) errors {
	return func(rng *rand.Rand) func() float64 {
		kept := 0.0
		return func() float64 {
			kept = phi*kept + 0.6*math.Sqrt(1-phi*phi)*rng.NormFloat64()
			return kept
		}
	}
}

// wanderingForHours is 0.6 mm, as of a membrane, beside a third of a millimetre.
func wanderingForHours(rng *rand.Rand) func() float64 {
	far := 0.0
	const share = float64(aquarium.Step) / float64(3*time.Hour)
	return func() float64 {
		far += -far*share + 0.6*math.Sqrt(2*share)*rng.NormFloat64()
		return far + 0.3*rng.NormFloat64()
	}
}

// wavering hands a level whose readings err alike, and come in such steps, to a watch of
// the library; it says what of a level was raised first.
func wavering(seed uint64, err errors, step float64, lasts time.Duration, litresH func(time.Duration) float64) (aquarium.Cause, time.Duration) {
	w, k := New(library()), vat{low: -1, high: 0.2}
	rng := rand.New(rand.NewPCG(seed, 43))
	read := func(id aquarium.SensorID, d time.Duration, v float64) {
		w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: "quillmere-library", Tank: "atrium", Sensor: id}, At: zero.Add(d), Value: v})
	}
	next := err(rng)
	for d := time.Duration(0); d <= lasts; d += aquarium.Step {
		k.step(litresH(d))
		read("level", d, math.Round((k.mm+next())/step)*step)
		on := 0.0
		if k.pump {
			on = 1
		}
		read("topoff", d, on)
		for _, x := range w.Tick(zero.Add(d)) {
			if c := x.Identity.Cause; x.Event == aquarium.Raised && (c == aquarium.WaterLoss || c == aquarium.TopOffRunaway) {
				return c, d
			}
		}
	}
	return "", 0
}

// TestReadingsThatErrTogether: a week of what each keeps of the last, or of a sensor that
// wanders, tells nothing.
func TestReadingsThatErrTogether(t *testing.T) {
	for _, c := range []struct {
		name string
		err  errors
		step float64
	}{
		{"they keep half", keeping(0.5), 0.5},
		{"they keep four fifths", keeping(0.8), 0.1},
		{"they wander for hours", wanderingForHours, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			days := 7 * 24 * h
			if testing.Short() {
				days = 2 * 24 * h
			}
			for seed := range uint64(2) {
				if got, at := wavering(seed, c.err, c.step, days, func(time.Duration) float64 { return 0.35 }); got != "" {
					t.Errorf("seed %d: %s after %v", seed, got, at)
				}
			}
		})
	}
}

// TestReadingsThatErrAlike: two weeks of them tell nothing, and do not hide water
// that runs in or out.
func TestReadingsThatErrAlike(t *testing.T) {
	const begins = 5*24*h + 17*time.Minute
	for _, c := range []struct {
		name    string
		litresH float64 // what leaves from then on beside the air's third of a litre
		want    aquarium.Cause
		within  time.Duration
	}{
		{"nothing", 0, "", 0},
		{"a hose", 150, aquarium.WaterLoss, 20 * time.Minute}, // more than the pump brings
		{"a leak", 20, aquarium.WaterLoss, 3 * h},             // which the pump makes good
		{"a seam", 1.5, aquarium.WaterLoss, 12 * h},
		{"a siphon", -20, aquarium.TopOffRunaway, 20 * time.Minute},
	} {
		t.Run(c.name, func(t *testing.T) {
			days := 14 * 24 * h
			if c.want != "" || testing.Short() {
				days = 6 * 24 * h
			}
			for seed := range uint64(2) {
				got, at := wavering(seed, alikeForMinutes, 0.001, days, func(d time.Duration) float64 {
					if d < begins {
						return 0.35
					}
					return 0.35 + c.litresH
				})
				t.Logf("seed %d: %s after %v", seed, got, at-begins)
				if got != c.want || got != "" && (at < begins || at > begins+c.within) {
					t.Errorf("seed %d: got %q after %v, want %q within %v", seed, got, at-begins, c.want, c.within)
				}
			}
		})
	}
}

// TestSurelyOver: some readings of a sensor that errs by two millimetres are not over a
// mark for being two above it; two are of one that errs by less, unless days differ by more.
func TestSurelyOver(t *testing.T) {
	for _, c := range []struct {
		noise, differ float64
		mm            []float64
		want          bool
	}{
		{2, 0, []float64{8, 8}, false},
		{2, 0, []float64{8, 8, 8, 8, 8}, false},
		{2, 0, []float64{10, 11, 10, 11, 12}, true},
		{0.5, 0, []float64{8, 8}, true},
		{0.5, 1.5, []float64{8, 8}, false},
		{0, 0, []float64{8, 8}, true}, // not known yet
	} {
		x := &tank{level: &series{}}
		x.level.wave.slow, x.vessel.waver.short.noise = 1.954*c.noise, c.noise
		var ps []point
		for i, mm := range c.mm {
			ps = append(ps, point{zero.Add(time.Duration(i) * time.Minute), mm})
		}
		if got := x.surelyOver(ps, 6, c.differ, overErrors); got != c.want {
			t.Errorf("%v of a sensor that errs by %.1f mm: got %t, want %t", c.mm, c.noise, got, c.want)
		}
	}
}
