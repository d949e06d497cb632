package detect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// levelRead plays hours of the library in which all is calm but the level, and says
// when each alarm of the tank was raised.
func levelRead(t *testing.T, site aquarium.Site, learned *Learned, every, lasts time.Duration, read func(d time.Duration, noise float64) float64) map[aquarium.Cause]time.Duration {
	t.Helper()
	s := script{paths: calm(), every: every, lasts: lasts, noise: 1}
	delete(s.paths, "level")
	xs, rng := s.samples(t, site), rand.New(rand.NewPCG(5, 9))
	key := aquarium.SensorKey{Site: site.ID, Tank: site.Tanks[0].ID, Sensor: "level"}
	for d := time.Duration(0); d <= lasts; d += every {
		xs = append(xs, aquarium.Sample{Sensor: key, At: zero.Add(d), Value: read(d, 0.3*rng.NormFloat64())})
	}
	slices.SortStableFunc(xs, func(a, b aquarium.Sample) int { return int(a.At - b.At) })
	w := New(site)
	if learned != nil {
		w.tanks[0].learned = learned
	}
	raised := map[aquarium.Cause]time.Duration{}
	for _, x := range s.play(w, xs, 0, lasts) {
		if x.Event == aquarium.Raised && raised[x.Identity.Cause] == 0 {
			raised[x.Identity.Cause] = x.At.Sub(zero)
		}
	}
	return raised
}

// raisedWithin checks a cause that must be raised between these times; other causes must not be.
func raisedWithin(t *testing.T, got map[aquarium.Cause]time.Duration, c aquarium.Cause, after, by time.Duration, also ...aquarium.Cause) {
	t.Helper()
	for x, at := range got {
		if x == c && (at <= after || at > by) || x != c && !slices.Contains(also, x) {
			t.Errorf("%s raised after %v; want %q within (%v, %v]", x, at, c, after, by)
		}
	}
	if c != "" && got[c] == 0 {
		t.Errorf("%s is not raised", c)
	}
}

// TestLevelInAnotherUnit: all of it is a tenth or ten times what it was from one
// reading to the next, noise and all; nothing else that moves a level is.
func TestLevelInAnotherUnit(t *testing.T) {
	whole := func(mm float64) float64 { return math.Round(mm) }
	for _, c := range []struct {
		name string
		read func(d time.Duration, noise float64) float64
		want aquarium.Cause
		also []aquarium.Cause
	}{
		{"centimetres", func(d time.Duration, noise float64) float64 {
			v := whole(3 - 0.3*d.Hours() + noise)
			if d > h {
				return v / 10
			}
			return v
		}, aquarium.UnitSuspect, nil},
		{"millimetres where centimetres are meant", func(d time.Duration, noise float64) float64 {
			v := whole(3 - 0.3*d.Hours() + noise)
			if d > h {
				return v * 10
			}
			return v
		}, aquarium.UnitSuspect, nil},
		{"a stone is taken out and the level is at its mark", func(d time.Duration, noise float64) float64 {
			v := 3 - 0.3*d.Hours()
			if d > h {
				v -= 2.5
			}
			return whole(v + noise)
		}, "", nil},
		{"sixty litres an hour are lost", func(d time.Duration, noise float64) float64 {
			return whole(-1 - 67*max(0, (d-h).Hours()) + noise)
		}, aquarium.WaterLoss, []aquarium.Cause{failed}},
	} {
		for _, every := range []time.Duration{10 * time.Second, time.Minute} {
			t.Run(c.name+"/"+every.String(), func(t *testing.T) {
				got := levelRead(t, library(), nil, every, 2*h, c.read)
				raisedWithin(t, got, c.want, h, 73*m, c.also...)
			})
		}
	}
}

// TestCoarseLevelHidesNoLeak: in steps of five millimetres a level is nothing but low,
// middle or high. Twenty litres an hour take it down in 22 min, and the top-off, of
// which no switch tells, lifts it in 6. What air takes is done in a day, and while the
// level is between two steps it is now on the one and now on the other.
func TestCoarseLevelHidesNoLeak(t *testing.T) {
	site := without(library(), "topoff")
	steps := func(mm float64) float64 { return 5 * math.Round(mm/5) }
	swing := func(d, down, up time.Duration) float64 {
		if d = (d + down + up) % (down + up); d < down {
			return 4 - 8*float64(d)/float64(down)
		}
		return -4 + 8*float64(d-down)/float64(up)
	}
	for _, every := range []time.Duration{10 * time.Second, time.Minute} {
		t.Run("a leak/"+every.String(), func(t *testing.T) {
			got := levelRead(t, site, nil, every, 4*h, func(d time.Duration, noise float64) float64 {
				if d < h {
					return steps(swing(d-6*m, 12*h, 6*m) + noise)
				}
				return steps(swing(d-h, 22*m, 6*m) + noise)
			})
			raisedWithin(t, got, lost, h, h+22*m)
		})
		t.Run("a leak from the middle/"+every.String(), func(t *testing.T) {
			got := levelRead(t, site, nil, every, 4*h, func(d time.Duration, noise float64) float64 {
				if d < h {
					return steps(swing(d-26*m+6*h, 12*h, 6*m) + noise)
				}
				return steps(swing(d-h+11*m, 22*m, 6*m) + noise)
			})
			raisedWithin(t, got, lost, h, h+38*m)
		})
		t.Run("a poor sensor/"+every.String(), func(t *testing.T) {
			got := levelRead(t, site, nil, every, 30*h, func(d time.Duration, noise float64) float64 {
				return steps(swing(d+4*h, 12*h, 5*m) + 5*noise)
			})
			raisedWithin(t, got, "", 0, 0)
		})
		t.Run("air/"+every.String(), func(t *testing.T) {
			got := levelRead(t, site, nil, every, 30*h, func(d time.Duration, noise float64) float64 {
				return steps(swing(d+4*h, 12*h, 5*m) + noise)
			})
			raisedWithin(t, got, "", 0, 0)
		})
	}
}

// TestFloatHangs: where half a litre an hour evaporates, six tenths of that are four
// millimetres in 12 h. A level that the air lowers, be it by a third of that, is none
// that hangs. In the middle between two steps ten readings tell it to more than half a
// millimetre, and only some tens of them do.
func TestFloatHangs(t *testing.T) {
	learned := &Learned{Tank: "atrium", Through: zero, Vessel: Vessel{Evaporation: slices.Repeat([]Evaporation{{LitresH: 0.5}}, 7)}}
	for _, c := range []struct {
		name  string
		mm    float64
		falls float64 // mm an hour
		rough float64 // times the usual noise
		want  aquarium.Cause
	}{
		{"hangs", 1.2, 0, 1, aquarium.SensorStuck},
		{"hangs between two steps, and is rough", 1.5, 0, 1.4, aquarium.SensorStuck},
		{"falls by a third of what is usual", 1.2, 0.18, 1, ""},
		{"falls by a third of what is usual, and is rough", 1.5, 0.18, 1.4, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := levelRead(t, library(), learned, time.Minute, 20*h, func(d time.Duration, noise float64) float64 {
				return math.Round(c.mm - c.falls*d.Hours() + c.rough*noise)
			})
			raisedWithin(t, got, c.want, 11*h+30*m, 13*h+30*m)
		})
	}
}

// TestShortChangeIsNoUnit: a change of ten minutes takes twelve litres out and puts them
// back: the level goes by ten times what it did before it, and stands at a tenth.
func TestShortChangeIsNoUnit(t *testing.T) {
	site := library()
	changed(&site.Tanks[0])
	read := []float64{-0.8, -0.9, -1.2, -0.9, -1.1, -1, -1.1, -1, -1.1, -1.1, // a minute each
		-4.7, -8.5, -12.4, -15.5, -13.3, -10.3, -8.7, -5.4, -3.5,
		-0.9, -0.8, -1, -0.8, -0.7, -1, -1.1, -1.2, -1.1, -1, -1.2, -0.8, -1.4, -1.2, -0.8, -0.9}
	path := "0m:-0.9 50m:-0.9"
	for i, mm := range read {
		path += fmt.Sprintf(" %dm:%g", 51+i, mm)
	}
	s := script{paths: calm(), every: time.Minute, lasts: 2 * h}
	s.paths["level"], s.paths["out"], s.paths["in"] = path, "0m:0 60m:1 64m:0", "0m:0 64m:1 70m:0"
	check(t, s.run(t, site), nil)
}
