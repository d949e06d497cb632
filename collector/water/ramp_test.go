package water

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// vessel is a stirred tank worked out in closed form: C(t) = P - (P - C0)
// exp(-k t), with P the plateau. The same balance is integrated step by step
// in TestRampAgainstIntegration.
type vessel struct {
	begin, plateau, exchange float64 // mg/l, mg/l, per hour
}

func (v vessel) at(hours float64) float64 {
	return v.plateau - (v.plateau-v.begin)*math.Exp(-v.exchange*hours)
}

// read is a pH probe in it: every so often, with that noise, rounded to a step.
func (v vessel) read(t *testing.T, length, every time.Duration, noise, step float64, r *rand.Rand) Ramp {
	t.Helper()
	out := Ramp{Alkalinity: 4, Water: 24.5, Step: PH(step)}
	for at := time.Duration(0); at <= length; at += every {
		ph, err := PHAt(MgPerL(v.at(at.Hours())), 4, 24.5)
		if err != nil {
			t.Fatal(err)
		}
		seen := math.Round((float64(ph)+noise*r.NormFloat64())/step) * step
		out.Readings = append(out.Readings, Acidity{at, PH(seen)})
	}
	return out
}

// The limits must hold what they say, 95 of 100 times, for readings with steps
// of 0.01 pH and noise of 0.01: plateau, exchange, inflow, hours until a bound.
func TestCourseHoldsTheTruth(t *testing.T) {
	for _, c := range []struct {
		name   string
		vessel vessel
		length time.Duration
		every  time.Duration
		noise  float64
	}{
		{"two hours of a brisk tank, every minute", vessel{6, 60, 0.9}, 2 * time.Hour, time.Minute, 0.01},
		{"the same, every 10 s", vessel{6, 60, 0.9}, 2 * time.Hour, 10 * time.Second, 0.01},
		{"without noise only its steps", vessel{6, 60, 0.9}, 2 * time.Hour, time.Minute, 0},
		{"three hours of a slow tank", vessel{8, 160, 0.25}, 3 * time.Hour, time.Minute, 0.005},
		{"a night's fall", vessel{35, 7, 0.3}, 8 * time.Hour, time.Minute, 0.01},
	} {
		t.Run(c.name, func(t *testing.T) {
			const seeds = 200
			outside := map[string]int{}
			told, width := 0, 0.0
			miss := func(what string, truth, lo, hi float64) {
				if !(lo <= truth && truth <= hi) {
					outside[what]++
				}
			}
			for seed := range uint64(seeds) {
				x, err := c.vessel.read(t, c.length, c.every, c.noise, 0.01, rand.New(rand.NewPCG(seed, 1))).Fit()
				if err != nil {
					t.Fatal(err)
				}
				p, err := x.Plateau()
				if err == nil {
					told++
					width += float64(p.Hi/p.Lo) / seeds
				} else if !errors.Is(err, ErrUndetermined) {
					t.Fatal(err)
				}
				miss("plateau", c.vessel.plateau, float64(p.Lo), float64(p.Hi))
				e := x.Exchange()
				miss("exchange", c.vessel.exchange, float64(e.Lo), float64(e.Hi))
				air, _ := x.carbon.Air(500)
				in, err := x.Inflow(500)
				if err != nil {
					t.Fatal(err)
				}
				miss("inflow", c.vessel.exchange*(c.vessel.plateau-float64(air)), float64(in.Lo), float64(in.Hi))
				settles := math.Log(math.Abs(c.vessel.plateau-c.vessel.begin)/(settled*c.vessel.plateau)) / c.vessel.exchange
				s := x.Settles()
				miss("settles", max(0, settles-c.length.Hours()), float64(s.Lo), float64(s.Hi))
				if now := c.vessel.at(c.length.Hours()); c.vessel.plateau > now {
					bound := now + (c.vessel.plateau-now)/3
					u, err := x.Until(MgPerL(bound))
					if err != nil {
						t.Fatal(err)
					}
					miss("until", -math.Log(1-1.0/3)/c.vessel.exchange, float64(u.Lo), float64(u.Hi))
				}
			}
			t.Logf("plateau told by %d of %d, its limits a factor %.2f apart in the mean; outside of the limits: %v", told, seeds, width, outside)
			for what, n := range outside {
				if n > seeds*7/100 { // 5 % and two standard deviations
					t.Errorf("%s lay outside of its limits %d times of %d, want at most 5 of 100", what, n, seeds)
				}
			}
		})
	}
}

// A morning that is over in 40 minutes does not bend enough, but says well when
// a bound is passed; with the exchange known from the night it tells the
// plateau too.
func TestNightTellsWhatAShortMorningCannot(t *testing.T) {
	const (
		seeds  = 100
		length = 40 * time.Minute
		bound  = 60.0
	)
	tank := vessel{9, 130, 0.3}
	until := math.Log((tank.plateau-tank.at(length.Hours()))/(tank.plateau-bound)) / tank.exchange
	alone, both, late, outside := 0, 0, 0, 0
	for seed := range uint64(seeds) {
		r := rand.New(rand.NewPCG(seed, 2))
		night, err := vessel{35, 7, 0.3}.read(t, 9*time.Hour, time.Minute, 0.01, 0.01, r).Fit()
		if err != nil {
			t.Fatal(err)
		}
		morning := tank.read(t, length, time.Minute, 0.01, 0.01, r)
		x, err := morning.Fit()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := x.Plateau(); err == nil {
			alone++
		}
		if u, err := x.Until(bound); err != nil || !(float64(u.Lo) <= until && until <= float64(u.Hi)) {
			late++
		}
		if x, err = morning.FitWith(night.Exchange()); err != nil {
			t.Fatal(err)
		}
		p, err := x.Plateau()
		if err == nil {
			both++
		}
		if !(float64(p.Lo) <= tank.plateau && tank.plateau <= float64(p.Hi)) {
			outside++
		}
	}
	t.Logf("told by the morning alone %d of %d, with the night %d; plateau outside of its limits %d, the hours until the bound %d", alone, seeds, both, outside, late)
	if alone > seeds/10 || both < seeds*9/10 || outside > seeds*9/100 || late > seeds*9/100 {
		t.Error("want at most 10 alone, at least 90 with the night, and at most 9 outside")
	}
}

// The closed form against the balance itself, integrated in steps of a second
// with the room's 600 ppm: the fit must come out at k_in/k_out over the air's,
// within 1 %, where nothing but rounding to 0.0001 pH is in its way.
func TestRampAgainstIntegration(t *testing.T) {
	c, err := At(24.5)
	if err != nil {
		t.Fatal(err)
	}
	air, err := c.Air(600)
	if err != nil {
		t.Fatal(err)
	}
	const in, out = 30.0, 0.5 // mg/l/h, per hour
	co2 := 5.0
	r := Ramp{Alkalinity: 4, Water: 24.5, Step: 0.0001}
	for s := range 3 * 3600 {
		if s%60 == 0 {
			ph, err := c.PH(MgPerL(co2), 4)
			if err != nil {
				t.Fatal(err)
			}
			r.Readings = append(r.Readings, Acidity{time.Duration(s) * time.Second, PH(math.Round(float64(ph)*1e4) / 1e4)})
		}
		co2 += (in - out*(co2-float64(air))) / 3600
	}
	x, err := r.Fit()
	if err != nil {
		t.Fatal(err)
	}
	p, err := x.Plateau()
	if err != nil {
		t.Fatal(err)
	}
	want := float64(air) + in/out
	near(t, "plateau", float64(p.Best), want, 0.01*want)
	inflow, err := x.Inflow(600)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "inflow", float64(inflow.Best), in, 0.01*in)
	near(t, "exchange", float64(x.Exchange().Best), out, 0.02*out)
	never, err := x.Until(MgPerL(want + 15))
	if err != nil || !math.IsInf(float64(never.Best), 1) {
		t.Errorf("until more than the plateau: got %v, %v, want never", never, err)
	}
	past, err := x.Until(6)
	if err != nil || past != (Estimate[Hour]{}) {
		t.Errorf("until what is past: got %v, %v, want 0", past, err)
	}
}

func TestRampRefuses(t *testing.T) {
	quiet := rand.New(rand.NewPCG(1, 1))
	short := vessel{6, 60, 0.9}.read(t, 20*time.Minute, time.Minute, 0, 0.01, quiet)
	flat := vessel{30, 31, 0.9}.read(t, 2*time.Hour, time.Minute, 0, 0.01, quiet)
	good := vessel{6, 60, 0.9}.read(t, 2*time.Hour, time.Minute, 0, 0.01, quiet)
	hot, backwards, coarse := good, good, good
	hot.Water = 60
	backwards.Readings = append([]Acidity{}, good.Readings...)
	backwards.Readings[3].After = 0
	backwards.Readings[2].After = time.Minute
	coarse.Step = 0.5
	for _, c := range []struct {
		name string
		fit  func() (Course, error)
		want error
	}{
		{"nothing", Ramp{Alkalinity: 4, Water: 25}.Fit, ErrUndetermined},
		{"20 minutes", short.Fit, ErrUndetermined},
		{"flat", flat.Fit, ErrUndetermined},
		{"60 Cel", hot.Fit, ErrRange},
		{"readings in disorder", backwards.Fit, ErrRange},
		{"steps of half a pH", coarse.Fit, ErrRange},
		{"exchange of 90 per hour", func() (Course, error) { return good.FitWith(Estimate[PerHour]{90, 80, 100}) }, ErrRange},
	} {
		t.Run(c.name, func(t *testing.T) {
			if _, err := c.fit(); !errors.Is(err, c.want) {
				t.Errorf("got %v, want %v", err, c.want)
			}
		})
	}
	x, err := good.Fit()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := x.Until(0); !errors.Is(err, ErrRange) {
		t.Errorf("until no CO2: got %v, want ErrRange", err)
	}
	if _, err := x.Inflow(0); !errors.Is(err, ErrRange) {
		t.Errorf("in air without CO2: got %v, want ErrRange", err)
	}
	for freedom, want := range map[int]float64{3: 3.182, 6: 2.447, 10: 2.228, 30: 2.042} { // any table of Student's t
		near(t, fmt.Sprintf("Student's t at %d", freedom), student95(freedom), want, 0.04*want)
	}
}

func BenchmarkFit(b *testing.B) {
	v := vessel{6, 60, 0.9}
	r := v.read(&testing.T{}, 2*time.Hour, time.Minute, 0.01, 0.01, rand.New(rand.NewPCG(1, 1)))
	for b.Loop() {
		if _, err := r.Fit(); err != nil {
			b.Fatal(err)
		}
	}
}
