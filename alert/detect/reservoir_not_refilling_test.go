package detect

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// basin is a store of reverse-osmosis water that people and the top-off empty evenly.
type basin struct {
	litres, full, start float64                     // start: where its unit comes on
	useLH               float64                     // what it is emptied by
	uses                func(time.Duration) float64 // ... or this
	makes               func(time.Duration) float64 // l/h, while its unit is on
	hours               [2]float64                  // of the day in which the unit may come on; none: day and night
	fills               []time.Duration             // when it came on
	on                  bool
	silent              [2]time.Duration // from when to when its volume is not heard
}

func (b *basin) step(d time.Duration) {
	h := math.Mod(d.Hours(), 24)
	free := b.hours == [2]float64{} || h >= b.hours[0] && h < b.hours[1]
	switch {
	case b.litres >= b.full || !free:
		b.on = false
	case b.litres < b.start && !b.on:
		b.on, b.fills = true, append(b.fills, d)
	}
	if b.uses != nil {
		b.useLH = b.uses(d)
	}
	b.litres -= b.useLH * aquarium.Step.Hours()
	if b.on {
		b.litres += b.makes(d) * aquarium.Step.Hours()
	}
}

// told is when a cause is raised, and how often it returned.
func (b *basin) told(cause aquarium.Cause, part aquarium.Reservoir, lasts time.Duration) (raised []time.Duration, returned int) {
	site := library()
	unswitch(&site.Tanks[0])
	site.Tanks[0].Equipment.Reservoir = &part
	w, rng := New(site), rand.New(rand.NewPCG(6, 11))
	say := func(sensor aquarium.SensorID, d time.Duration, x float64) {
		w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: sensor}, At: zero.Add(d), Value: x})
	}
	for d := time.Duration(0); d < lasts; d += aquarium.Step {
		b.step(d)
		if d%time.Minute == 0 {
			if d < b.silent[0] || d >= b.silent[1] {
				say("store", d, math.Round(2*(b.litres+0.4*rng.NormFloat64()))/2)
			}
			say("refill", d, map[bool]float64{true: 1}[b.on])
		}
		for _, x := range w.Tick(zero.Add(d)) {
			switch {
			case x.Identity.Cause != cause:
			case x.Event == aquarium.Raised:
				raised = append(raised, d)
			case x.Event == aquarium.Returned:
				returned++
			}
		}
	}
	return raised, returned
}

// TestSmallUnit: fifteen litres an hour, of which no switch tells, fill sixty litres from a
// quarter. That nothing comes before is no news, though nobody has seen it fill; that
// it makes two fifths at its third filling is.
func TestSmallUnit(t *testing.T) {
	const slow = 118 * h
	b := basin{litres: 54, full: 60, start: 15, useLH: 0.9}
	b.makes = func(d time.Duration) float64 {
		if d > slow {
			return 6
		}
		return 15
	}
	raised, _ := b.told(aquarium.ReservoirNotRefilling, aquarium.Reservoir{Volume: "store", CapacityL: 60, ProductionLH: 15}, 156*h)
	if len(b.fills) != 3 {
		t.Fatalf("it fills at %v", b.fills)
	}
	if third := b.fills[2]; len(raised) != 1 || raised[0] < third || raised[0] > third+4*h { // three hours are usual
		t.Errorf("told at %v; it fills at %v, slowly from %v on", raised, b.fills, slow)
	}
}

// TestNeverFilled: of a store that nobody has seen filled it is not known where its float
// calls. What falls on for an hour leaks all the same, and what stands below a tenth wants
// water; the top-off's seven litres, however slowly it takes them, are no such thing.
func TestNeverFilled(t *testing.T) {
	for _, c := range []struct {
		name        string
		from, useLH float64
		lasts, by   time.Duration // by 0: it is not told
	}{
		{"a leak of ten litres an hour more than is made", 160, 10, 3 * h, 95 * m},
		{"a slow top-off", 160, 4.7, 90 * m, 0},
		{"less than a tenth", 18, 0, 0, 70 * m},
		{"a third", 60, 0, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := basin{litres: c.from, full: 200, makes: func(time.Duration) float64 { return 0 }}
			b.uses = func(d time.Duration) float64 {
				if d < c.lasts {
					return c.useLH
				}
				return 0
			}
			raised, _ := b.told(aquarium.ReservoirNotRefilling, aquarium.Reservoir{Volume: "store", CapacityL: 200, ProductionLH: 70}, 6*h)
			if c.by == 0 && len(raised) > 0 || c.by > 0 && (len(raised) != 1 || raised[0] > c.by) {
				t.Errorf("told at %v, want by %v", raised, c.by)
			}
		})
	}
}

// TestShortFillings: a float that calls for eighteen litres at a time lets no filling
// last long enough to tell what the unit makes, but where they begin is known by it.
func TestShortFillings(t *testing.T) {
	const dies = 80 * h
	b := basin{litres: 190, full: 198, start: 180, useLH: 1.5}
	b.makes = func(d time.Duration) float64 {
		if d > dies {
			return 0
		}
		return 70
	}
	raised, _ := b.told(aquarium.ReservoirNotRefilling, aquarium.Reservoir{Volume: "store", CapacityL: 200, ProductionLH: 70}, 110*h)
	if len(raised) != 1 || raised[0] < dies || raised[0] > dies+20*h { // of which 12 h may be to the next filling
		t.Errorf("told at %v; it fills at %v, and brings nothing from %v on", raised, b.fills, dies)
	}
}

// TestFilledByNight: a unit that may run for four hours of the night brings nothing from
// the fourth night on. That is told once, and is not over because the night is, nor
// because it is called for again.
func TestFilledByNight(t *testing.T) {
	const dies = 90 * h
	b := basin{litres: 120, full: 160, start: 120, useLH: 1.5, hours: [2]float64{1, 5}}
	b.makes = func(d time.Duration) float64 {
		if d > dies {
			return 0
		}
		return 38
	}
	raised, returned := b.told(aquarium.ReservoirNotRefilling, aquarium.Reservoir{Volume: "store", CapacityL: 160, Refill: "refill", ProductionLH: 38}, 180*h)
	if len(raised) != 1 || raised[0] < dies || returned != 0 {
		t.Errorf("told at %v and over %d times; it is called for at %v, and brings nothing from %v on", raised, returned, b.fills, dies)
	}
}

// TestFifthLess: what is held against the last fillings, whose feed may have been warmer
// or colder by three degrees.
func TestFifthLess(t *testing.T) {
	for _, c := range []struct {
		name  string
		makes func(time.Duration) float64
		want  bool
	}{
		{"a quarter less of a feed three degrees warmer", func(d time.Duration) float64 { // 0.72 of 1.10
			if d > 80*h {
				return 55 * 0.79
			}
			return 55
		}, true},
		{"a feed four degrees colder", func(d time.Duration) float64 {
			if d > 80*h {
				return 55 * 0.87
			}
			return 55
		}, false},
		{"a feed two degrees colder, whose pressure swings by an eighth either way within two hours", func(d time.Duration) float64 {
			cold := 1.0
			if d > 80*h {
				cold = 0.94
			}
			return 55 * cold * (1 + 0.12*math.Sin(math.Pi*d.Hours()))
		}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := basin{litres: 150, full: 180, start: 60, useLH: 3, makes: c.makes}
			raised, _ := b.told(aquarium.ReservoirNotRefilling, aquarium.Reservoir{Volume: "store", CapacityL: 180, Refill: "refill", ProductionLH: 70}, 156*h)
			if got := len(raised) > 0; got != c.want || got && raised[0] < 80*h {
				t.Errorf("told at %v, want %v; it fills at %v", raised, c.want, b.fills)
			}
		})
	}
}

// TestFillsUnheard: a unit of 40 l/h that makes next to nothing has been on for a day when
// its volume is not heard for five minutes, at 180 of 200 l; one that makes what it should,
// and does not stop before the day is over, is not heard from 20 l under full on. Of a
// first day like that only the filling is learned.
func TestFillsUnheard(t *testing.T) {
	for _, c := range []struct {
		name   string
		makes  float64
		silent [2]time.Duration
		told   [2]time.Duration
	}{
		{"a gap", 1.5, [2]time.Duration{30 * h, 30*h + 5*m}, [2]time.Duration{}},
		{"silence", 40, [2]time.Duration{h, 9 * h}, [2]time.Duration{h + 30*m, h + 50*m}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := basin{litres: 140, full: 1000, start: 150, makes: func(time.Duration) float64 { return c.makes }, silent: c.silent}
			raised, _ := b.told(aquarium.ReservoirOverfull, aquarium.Reservoir{Volume: "store", CapacityL: 200, Refill: "refill", ProductionLH: 40}, 31*h)
			if c.told[1] == 0 && len(raised) > 0 || c.told[1] > 0 && (len(raised) == 0 || raised[0] < c.told[0] || raised[0] > c.told[1]) {
				t.Errorf("told at %v, want between %v and %v", raised, c.told[0], c.told[1])
			}
		})
	}
}

// TestOverfullAtRest: a store that somebody has filled by four litres too much, read to
// half a litre once a minute, floods nothing; one into which three and a half litres an
// hour go on coming does.
func TestOverfullAtRest(t *testing.T) {
	for comes, want := range map[float64]int{0: 0, 3.5: 1} {
		b := basin{litres: 184, full: 180, useLH: -comes}
		raised, _ := b.told(aquarium.ReservoirOverfull, aquarium.Reservoir{Volume: "store", CapacityL: 180, ProductionLH: 70}, 22*h)
		if len(raised) < want || want == 0 && len(raised) > 0 || want > 0 && raised[0] > 2*h {
			t.Errorf("%g l/h come: told at %v, want %d times at the least", comes, raised, want)
		}
	}
}
