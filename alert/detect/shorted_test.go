package detect

import (
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestLiesAtSeven: a pH that came to 7 by night, by no step, and lies there is a
// shorted electrode's once gas does not move it, where the night before came to something
// else and it was there before gas was asked for.
func TestLiesAtSeven(t *testing.T) {
	const asked = 5 * h
	for _, c := range []struct {
		name  string
		night float64       // what the one before came to
		from  time.Duration // when it came there
		rises float64       // within the last hour
		until time.Duration
		want  bool
	}{
		{"shorted by night", 7.2, h, 0, asked + 25*m, true},
		{"too soon to tell", 7.2, h, 0, asked + 15*m, false},
		{"the night before came to 7", 7.05, h, 0, asked + 25*m, false},
		{"gas brought it there", 7.2, asked + 10*m, 0, asked + 80*m, false},
		{"it moves", 7.2, h, 0.05, asked + 25*m, false},
	} {
		site := library()
		w := New(site)
		tank := w.tanks[0]
		s := tank.sensor("ph")
		tank.dosing.morning = morning{At: zero.Add(asked - 23*h), Plateau: c.night}
		for d := c.from; d <= c.until; d += m {
			v := shortedAt + c.rises*(1-min(1, (c.until-d).Hours()))
			s.hear(zero.Add(d), v)
			s.take(zero.Add(d), v, aquarium.Good)
			s.reckon()
			tank.doubt.follow(zero.Add(d), v, false, gasMayCome)
		}
		tank.dosing.asked = zero.Add(asked)
		w.now = zero.Add(c.until)
		tank.doubtZero(&view{w: w, now: w.now}, s)
		if got := tank.doubted(); got != c.want {
			t.Errorf("%s: doubted %v, want %v", c.name, got, c.want)
		}
		if c.want && tank.doubt.from != c.night {
			t.Errorf("%s: should be %v, want %v", c.name, tank.doubt.from, c.night)
		}
	}
}

// TestStopsAtSeven: a pH that has come down with the gas and from then on stands at 7 is a
// shorted electrode's; water whose gas stops as it passes there turns.
func TestStopsAtSeven(t *testing.T) {
	const foretold = "hardly any gas comes, as has been told"
	const from, asked, until = 30 * m, h, 100 * m              // it comes to 7 at 75 minutes
	mixes := func(since time.Duration, rise float64) float64 { // 0.03 within minutes, then so much an hour
		return -0.03*(1-math.Exp(-since.Minutes()/3)) + rise*since.Hours()
	}
	for _, c := range []struct {
		name  string
		step  float64 // of the meter
		after func(since time.Duration) float64
		want  bool
	}{
		{"shorted", 0.01, func(time.Duration) float64 { return 0 }, true},
		{"shorted, read finely", 0.001, func(time.Duration) float64 { return 0 }, true},
		{"of a coarse meter nothing is known", 0.05, func(time.Duration) float64 { return 0 }, false},
		{"gas stops", 0.001, func(d time.Duration) float64 { return mixes(d, 0.05) }, false},
		{"gas stops, and much leaves", 0.01, func(d time.Duration) float64 { return mixes(d, 0.2) }, false},
		{"gas goes on as slowly as it may", 0.01, func(d time.Duration) float64 { return -0.1 * d.Hours() }, false},
		{"it stands elsewhere", 0.001, func(time.Duration) float64 { return 0.03 }, false},
		{foretold, 0.01, func(time.Duration) float64 { return 0 }, false},
	} {
		site := library()
		w := New(site)
		tank := w.tanks[0]
		if c.name == foretold {
			w.state(aquarium.Identity{Site: site.ID, Tank: "atrium", Cause: aquarium.CO2NotDosing, Equipment: "co2"}).stands = true
		}
		s := tank.sensor("ph")
		tank.learned.Vigour = Vigour{Rates: make([]float64, vigourLeast), Rate: math.Log10(2e-7)}
		tank.dosing.asked, tank.dosing.from = zero.Add(asked), 7.15
		for d := from; d <= until; d += 10 * time.Second {
			v := 7.15
			switch {
			case d > 75*m:
				v = shortedAt + c.after(d-75*m)
			case d > asked:
				v -= 0.15 * (d - asked).Minutes() / 15
			}
			v += 0.002 * math.Sin(float64(d/time.Second)) // a meter's noise
			v = c.step * math.Round(v/c.step)
			s.hear(zero.Add(d), v)
			s.take(zero.Add(d), v, aquarium.Good)
			s.reckon()
			if d%m != 0 {
				continue
			}
			w.now = zero.Add(d)
			tank.dosing.last = w.now
			tank.doubt.follow(w.now, v, false, gasMayCome)
			tank.doubtZero(&view{w: w, now: w.now}, s)
		}
		if got := tank.doubted(); got != c.want {
			t.Errorf("%s: doubted %v, want %v", c.name, got, c.want)
		}
	}
}
