package detect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// TestSiegmund: the short formula's interval is that of Page's integral equation,
// to a tenth, for the slacks and run lengths of the hours.
func TestSiegmund(t *testing.T) {
	for _, k := range []float64{0.5, 1, 1.5, 2} {
		for _, runs := range []float64{1e4, 1e6} {
			want := statistic.CusumLimit(k, runs)
			if got := siegmund(k, 1, runs); math.Abs(got-want) > 0.1*want+0.1 {
				t.Errorf("slack %v, one in %v: %.2f, want %.2f", k, runs, got, want)
			}
		}
	}
}

// TestRoughHours: what rough hours may have lost is no leak once a calm one shows that
// none is, at 0.6 l to the millimetre and a tenth of a litre an hour of evaporation;
// hours that agree are one, rough or not.
func TestRoughHours(t *testing.T) {
	for _, c := range []struct {
		name     string
		lost, se []float64 // l/h
		told     int       // by the hour; -1: never
	}{
		{"two rough hours, then calm ones", []float64{1.92, 1.01, -0.02, 0.01}, []float64{0.40, 0.42, 0.09, 0.07}, -1},
		{"one rough hour", []float64{0.1, 5, 0.1, 0.1}, []float64{0.07, 0.5, 0.07, 0.07}, -1},
		{"calm hours of 1 l/h", []float64{1.1, 1.1, 1.1, 1.1}, []float64{0.1, 0.1, 0.1, 0.1}, 2},
		{"rough hours of 2 l/h, the calm ones too", []float64{2.1, 2.1, 2.1, 2.1}, []float64{0.4, 0.4, 0.1, 0.1}, 1},
	} {
		var b ebb
		told := -1
		for i := range c.lost {
			if b.add(zero.Add(time.Duration(i)*ebbHour), c.lost[i], 0.1, c.se[i], ebbSteps*0.6); told < 0 && b.loses(false) {
				told = i
			}
		}
		if told != c.told {
			t.Errorf("%s: told by hour %d, want %d", c.name, told, c.told)
		}
	}
}

// TestFlickerCutsNoHour: an hour of a level that stands still, in steps of two millimetres
// that it flickers over, is not cut at each rise by two of them, be it after an hour whose
// readings happened to agree: all its stretches would begin high and end low, by three
// millimetres an hour. A jump by two steps at once cuts it all the same.
func TestFlickerCutsNoHour(t *testing.T) {
	const digits = "110121121111111111112201010001011201112011111111110101121210011111111111011211201111101211121111112211111201210112200111"
	b, s, x := ebb{noise: 0.57, most: 2 * ebbRise}, &series{}, &vessel{step: 2}
	mm := below(digits, 2)
	for i := 2; i < len(mm); i++ {
		b.take(x, point{zero.Add(time.Duration(i) * 30 * time.Second), middleOf(mm[i-2], mm[i-1], mm[i])}, 30*time.Second, s)
	}
	b.end()
	slope, se, ok := b.sum.slope()
	if !ok || b.sum.stretches > 2 || math.Abs(slope) > 3*se {
		t.Errorf("%d stretches with a slope of %.2f mm an hour, standard error %.2f, %v; want none surely", b.sum.stretches, slope, se, ok)
	}
}

// levels hands a level, read each so often with the usual noise, to a watch of the
// library and says when water-loss was first raised.
func levels(seed uint64, every, lasts time.Duration, change func(*aquarium.Tank), level func(d time.Duration) (mm float64, pump bool)) (time.Duration, bool) {
	site := library()
	if change != nil {
		change(&site.Tanks[0])
	}
	w := New(site)
	rng := rand.New(rand.NewPCG(seed, 41))
	key := func(id aquarium.SensorID) aquarium.SensorKey {
		return aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: id}
	}
	for d := time.Duration(0); d <= lasts; d += aquarium.Step {
		if d%every == 0 {
			mm, pump := level(d)
			if site.Tanks[0].Sensor("level") != nil {
				w.Observe(aquarium.Sample{Sensor: key("level"), At: zero.Add(d), Value: math.Round(mm + rng.NormFloat64()*usual[aquarium.Level][0])})
			}
			on := 0.0
			if pump {
				on = 1
			}
			w.Observe(aquarium.Sample{Sensor: key("topoff"), At: zero.Add(d), Value: on})
		}
		for _, x := range w.Tick(zero.Add(d)) {
			if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.WaterLoss {
				return d, true
			}
		}
	}
	return 0, false
}

// vat is a tank whose controller holds its level between two ends.
type vat struct {
	mm, low, high float64
	pump          bool
}

// step is ten seconds of it: litres an hour that leave, at 0.9 l to the millimetre.
func (k *vat) step(litresH float64) {
	if k.pump {
		k.mm += 90 / 0.9 / 360
	}
	k.mm -= litresH / 0.9 / 360
	switch {
	case k.mm < k.low:
		k.pump = true
	case k.mm > k.high:
		k.pump = false
	}
}

// TestLossIsTold: twenty litres an hour within twenty minutes and one within twelve
// hours, beside a third of a litre that evaporates: with the level, wherever between
// two top-offs it begins, and where the level is held so tightly, or not read, that
// only the pump tells.
func TestLossIsTold(t *testing.T) {
	tight := func(t *aquarium.Tank) { t.Equipment.TopOff.BandMM = 1 }
	floats := func(t *aquarium.Tank) {
		t.Sensors = append(t.Sensors[:2:2], t.Sensors[3:]...) // no level
		t.Equipment.TopOff = &aquarium.TopOff{Low: "low", Pump: "topoff", RateLH: 90}
	}
	for _, c := range []struct {
		name      string
		litresH   float64
		band      float64
		change    func(*aquarium.Tank)
		within    time.Duration
		mostly    float64
		intervals []time.Duration
	}{
		{"20 l/h", 20, 4, nil, 20 * m, 0.95, []time.Duration{10 * time.Second, time.Minute}},
		{"1 l/h", 1.05, 4, nil, 12 * h, 1, []time.Duration{10 * time.Second, time.Minute}},
		{"1 l/h, held within a millimetre", 1.05, 1, tight, 12 * h, 1, []time.Duration{10 * time.Second, time.Minute}},
		{"1 l/h, floats five millimetres apart", 1.05, 2.5, floats, 12 * h, 1, []time.Duration{10 * time.Second}},
		{"3 l/h, floats eight millimetres apart", 3, 4, floats, 12 * h, 1, []time.Duration{10 * time.Second}},
	} {
		for _, every := range c.intervals {
			t.Run(fmt.Sprint(c.name, "/", every), func(t *testing.T) {
				const runs = 20
				in, worst := 0, time.Duration(0)
				for seed := range uint64(runs) {
					k := vat{mm: -c.band + 2*c.band*float64(seed)/runs, low: -c.band, high: c.band}
					began := 4*h + time.Duration(seed)*7*m
					at, ok := levels(seed, every, began+max(3*h, c.within+2*h), c.change, func(d time.Duration) (float64, bool) {
						for range every / (10 * time.Second) {
							if d < began {
								k.step(0.3)
							} else {
								k.step(0.3 + c.litresH)
							}
						}
						return k.mm, k.pump
					})
					if ok && at < began {
						t.Fatalf("seed %d: told at %v, begun at %v", seed, at, began)
					}
					if ok && at-began <= c.within {
						in++
					}
					worst = max(worst, at-began)
				}
				t.Logf("%d of %d in time, the last after %v", in, runs, worst)
				if float64(in) < c.mostly*runs {
					t.Errorf("%d of %d within %v", in, runs, c.within)
				}
			})
		}
	}
}

// TestEvaporationIsNoLoss: a month of evaporation that swings with day and night,
// doubles within a day for a heat wave, and does not follow any sensor; tops off by
// eight millimetres or by one.
func TestEvaporationIsNoLoss(t *testing.T) {
	days := 30
	if testing.Short() {
		days = 8
	}
	for _, band := range []float64{4, 1} {
		for _, usual := range []float64{0.1, 0.25, 0.4} {
			k := vat{low: -band, high: band}
			at, ok := levels(5, time.Minute, time.Duration(days)*24*h, func(t *aquarium.Tank) { t.Equipment.TopOff.BandMM = band }, func(d time.Duration) (float64, bool) {
				rate := usual * (1 + 0.3*math.Sin(d.Hours()/24*2*math.Pi))
				if day := d.Hours() / 24; day > 5 && day < 10 || day > 20 && day < 23 {
					rate *= 2
				}
				for range 6 {
					k.step(rate)
				}
				return k.mm, k.pump
			})
			if ok {
				t.Errorf("%v l/h, band %v: told at %v", usual, band, at)
			}
		}
	}
}

// TestFallsCryNoWolf: as TestSiphonCriesNoWolf, turned round: levels that fall by
// evaporation and swing with the room, read by good probes and by bad ones, with a
// stone put in or taken out each ten hours: one of fifty at the most, which a stone a month
// makes one in four years.
func TestFallsCryNoWolf(t *testing.T) {
	years := 0.4
	if testing.Short() {
		years = 0.1
	}
	told := 0
	for _, probe := range probes {
		rng := rand.New(rand.NewPCG(11, 9))
		for range int(years * 365 * 24 / 10) {
			off, rate, warm, phase := rng.Float64(), 0.2+0.6*rng.Float64(), 0.1*rng.Float64(), 6*rng.Float64()
			stone, when := 6*rng.Float64()-3, time.Duration(rng.Float64()*10*float64(h))
			var ps []point
			level := &series{}
			for d := time.Duration(0); d < 10*h; d += time.Minute {
				v := off - rate*d.Hours() + warm*math.Sin(d.Hours()+phase)
				if d > when {
					v += stone
				}
				v = math.Round((v+rng.NormFloat64()*probe[0])/probe[1]) * probe[1]
				ps = append(ps, point{zero.Add(d), -v})
				level.wave.take(zero.Add(d), v, true)
				look := ps[max(0, len(ps)-46):]
				if len(look) < 6 {
					continue
				}
				if _, ok := falling.of(level).climb(time.Minute, (1.4*0.2+fallMore)/0.9, look); ok {
					told++
					break
				}
			}
		}
	}
	t.Logf("%d in %.0f tank-years with a stone each ten hours", told, years*float64(len(probes)))
	if stones := years * 365 * 24 / 10 * float64(len(probes)); float64(told) > 0.02*stones {
		t.Errorf("%d of %.0f stones are told", told, stones)
	}
}

// TestHoursApart: what hours differ by is as much as each is wrong by, give or take a half, and one
// that loses more from then on makes no difference.
func TestHoursApart(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 5))
	var x hoursApart
	for i := range 48 {
		lost := 0.3 + 0.5*rng.NormFloat64()
		if i >= 36 {
			lost++
		}
		got := x.take(zero.Add(time.Duration(i)*ebbHour), lost)
		if known := i >= hoursTell; known != (got > 0) || i > hoursCompared && (got < 0.2 || got > 1.1) {
			t.Errorf("hour %d: wrong by %.2f l, want about 0.5", i, got)
		}
	}
}
