package detect

import (
	"math"
	"testing"
	"time"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// nights are so many mornings of a tank that is well, lying apart by a few
// thousandths as a pretend one's do.
func nights(n int) Drift {
	k := Drift{KH: 4}
	for i := range n {
		noise := 0.004 * math.Sin(float64(7*i))
		k.take(morning{At: zero.Add(time.Duration(i) * day), Plateau: 7.2 + noise, Rate: -6.54 - noise, Duty: -0.58 + noise}, 4)
	}
	return k
}

// TestDriftOrWhat: what moves night, morning and valve together is told as much
// as it is; what moves one or two of them for a reason of its own is not.
func TestDriftOrWhat(t *testing.T) {
	for _, c := range []struct {
		name                string
		night, gas, duty    float64 // how far they move: pH, and logarithms
		kh                  float64 // dKH, by a hand test since
		least, most, byTest float64
	}{
		{"probe reads 0.2 high", 0.2, -0.2, 0.17, 4, 0.19, 0.21, 0},
		{"probe reads 0.2 low", -0.2, 0.2, -0.17, 4, -0.21, -0.19, 0},
		{"probe reads 0.2 high, the night is too short", 0.14, -0.23, 0.17, 4, 0.17, 0.22, 0},
		{"harder water, nobody knows", 0.2, -0.2, 0.17, 4, 0.19, 0.21, 0},
		{"harder water, and a hand test", 0.2, -0.2, 0.17, 6.34, -0.01, 0.01, 0.2},
		{"softer water, and a hand test", -0.15, 0.15, -0.13, 2.83, -0.01, 0.01, -0.15},
		{"a hand test finds what always was so", 0, 0, 0, 5.5, -0.01, 0.01, 0},
		{"needle valve turned down by 40 %", 0, -0.22, 0.22, 4, 0, 0.05, 0},
		{"diffuser half blocked", 0.01, -0.3, 0.3, 4, 0, 0.07, 0},
		{"surface moved more: a third more exchange", 0.11, -0.01, 0.1, 4, 0, 0.04, 0},
		{"more is breathed out at night", -0.12, 0.01, -0.03, 4, -0.04, 0, 0},
		{"plants have grown", 0, 0, 0.15, 4, -0.01, 0.01, 0},
		{"no valve switch: probe reads 0.2 high", 0.2, -0.2, math.NaN(), 4, 0.19, 0.21, 0},
		{"night and morning disagree", 0.2, 0.2, 0.2, 4, 0, 0, 0},
	} {
		k := nights(10)
		m := morning{At: zero.Add(10 * day), Plateau: k.Plateau.Base + c.night, Rate: k.Rate.Base + c.gas, Duty: k.Duty.Base + c.duty}
		if math.IsNaN(c.duty) {
			m.Duty = 0
		}
		shift, by := k.shift(m, c.kh)
		if !(shift >= c.least && shift <= c.most) || math.Abs(by-c.byTest) > 0.005 {
			t.Errorf("%s: shift %.3f of which a test explains %.3f; want %v to %v, %v", c.name, shift, by, c.least, c.most, c.byTest)
		}
	}
}

// TestShortNight: where most of the evening's gas is still there in the morning, night and
// ramp say as much together as the probe is off, though the night shows a third of it.
func TestShortNight(t *testing.T) {
	for _, c := range []struct {
		name        string
		e           float64
		night, gas  float64 // what they say, as a share of what they show of e
		least, most float64
	}{
		{"0.2 high", 0.2, 1, 1, 0.19, 0.21},
		{"0.2 low", -0.2, 1, 1, -0.21, -0.19},
		{"0.2 high, and the room's air better by a tenth", 0.2, 0.4, 1, 0.13, 0.2},
		{"gas that comes more slowly, and the room's air better by a fifth", 0.2, -1.5, 1, 0, 0.05},
		{"a night by itself", 0.2, 1, 0, 0, 0.05},
	} {
		k := nights(10)
		k.Shows, k.Gains = 0.35, 1.2
		m := morning{At: zero.Add(10 * day), Plateau: k.Plateau.Base + c.night*c.e*k.Shows, Rate: k.Rate.Base - c.gas*c.e*k.Gains}
		if got, _ := k.shift(m, 4); got < c.least || got > c.most {
			t.Errorf("%s: %.3f, want %v to %v", c.name, got, c.least, c.most)
		}
	}
}

// TestCrept: what has come little by little is told from a tenth on, what a calibration
// did in a moment is not, whatever came before it or comes after.
func TestCrept(t *testing.T) {
	for _, c := range []struct {
		name string
		at   func(day int) float64
		want bool
	}{
		{"0.015 a day", func(n int) float64 { return min(0.12, 0.015*float64(n)) }, true},
		{"0.015 a day downwards", func(n int) float64 { return -min(0.12, 0.015*float64(n)) }, false},
		{"a calibration of a tenth", func(n int) float64 { return 0.11 * float64(min(n, 1)) }, false},
		{"one after a drift of 0.03", func(n int) float64 { return min(0.03, 0.005*float64(n)) + 0.08*float64(n/10) }, false},
		{"0.05 and no more", func(n int) float64 { return min(0.05, 0.01*float64(n)) }, false},
	} {
		k := nights(10)
		told := false
		for n := range 14 {
			e := c.at(n)
			k.take(morning{At: zero.Add(time.Duration(10+n) * day), Plateau: 7.2 + e, Rate: -6.54 - e, Duty: -0.58 + 0.85*e}, 4)
			x := suspicion{shift: k.Shift, leap: k.Leap}
			told = told || math.Abs(x.shift) >= k.limit()*x.sooner()
		}
		if told != c.want {
			t.Errorf("%s: told %v, want %v; the shift is %.3f, it moved by %.3f in a morning", c.name, told, c.want, k.Shift, k.Leap)
		}
	}
}

// TestUsualFollows: what a healthy tank does slowly is followed and not told:
// losing 0.02 dKH a day for four months, and an electrode that ages by 0.002 a
// day; a drift of 0.01 a day is told by the time it has come to 0.2.
func TestUsualFollows(t *testing.T) {
	for _, c := range []struct {
		name   string
		perDay float64
		days   int
		told   bool
	}{
		{"alkalinity lost", math.Log10(3.98 / 4), 120, false},
		{"an electrode ages upwards", 0.001, 120, false},
		{"an electrode ages downwards", -0.002, 120, false},
		{"drift of 0.01 a day", 0.01, 20, true},
		{"drift of -0.01 a day", -0.01, 20, true},
	} {
		k := nights(10)
		told := false
		for i := range c.days {
			e := c.perDay * float64(i+1)
			k.take(morning{At: zero.Add(time.Duration(10+i) * day), Plateau: 7.2 + e, Rate: -6.54 - e, Duty: -0.58 + 0.85*e}, 4)
			told = told || math.Abs(k.Shift) >= k.limit()
		}
		if told != c.told {
			t.Errorf("%s: told %v, want %v; the shift is %.3f", c.name, told, c.told, k.Shift)
		}
	}
}

// TestGrows: what two mornings say, each more than the one before, is told before the
// third; the valve's share of the day before cannot deny what has come since.
func TestGrows(t *testing.T) {
	for _, c := range []struct {
		name        string
		prior, last [3]float64 // how far night, gas and duty have moved: pH, and logarithms
		want        bool
	}{
		{"alkalinity lost by a fifth a day", [3]float64{-0.045, 0.046, 0.006}, [3]float64{-0.154, 0.168, -0.063}, true},
		{"a probe drifts upwards by 0.06 a day", [3]float64{0.04, -0.04, 0.03}, [3]float64{0.11, -0.1, 0.08}, true},
		{"a tenth in one morning", [3]float64{0.003, -0.003, 0}, [3]float64{0.1, -0.1, 0}, false},
		{"a tenth, and no more", [3]float64{0.1, -0.1, 0.08}, [3]float64{0.1, -0.1, 0.08}, false},
		{"lost slowly for weeks", [3]float64{-0.04, 0.04, -0.03}, [3]float64{-0.05, 0.05, -0.04}, false},
		{"a diffuser blocks", [3]float64{0.01, -0.1, 0.1}, [3]float64{0.01, -0.3, 0.3}, false},
		{"the surface is moved more and more", [3]float64{0.06, -0.01, 0.06}, [3]float64{0.12, -0.02, 0.1}, false},
		{"a morning says the contrary of the one before", [3]float64{0.05, -0.05, 0.04}, [3]float64{-0.12, 0.12, -0.1}, false},
	} {
		k := nights(10)
		by := func(x [3]float64, days int) morning {
			return morning{At: zero.Add(time.Duration(days) * day), Plateau: k.Plateau.Base + x[0], Rate: k.Rate.Base + x[1], Duty: k.Duty.Base + x[2]}
		}
		last := by(c.last, 11)
		k.take(by(c.prior, 10), 4)
		w := New(library())
		u := w.tanks[0]
		u.learned, u.dosing.morning, u.kh = &Learned{Drift: &k}, last, 4
		x := suspicion{prior: k.Last}
		if got := u.grows(x, u.found(&view{w: w, now: last.At.Add(h)}, x)); got != c.want {
			t.Errorf("%s: grows %v, want %v", c.name, got, c.want)
		}
	}
}

// TestBadly: of the morning after a calibration that nobody noted, what is far from
// before was done badly; what a good one corrects is not.
func TestBadly(t *testing.T) {
	for _, c := range []struct {
		by   float64
		want bool
	}{{0.05, false}, {-0.1, false}, {0.25, true}, {-0.3, true}} {
		k := nights(10)
		m := morning{At: zero.Add(10 * day), Plateau: k.Plateau.Base + c.by, Rate: k.Rate.Base - c.by}
		if got := k.badly(m, m.At.Add(-15*time.Hour), 4); got != c.want {
			t.Errorf("%+.2f pH: badly %v, want %v", c.by, got, c.want)
		}
		if k.badly(m, m.At.Add(time.Hour), 4) {
			t.Errorf("%+.2f pH: badly, of a morning before it", c.by)
		}
	}
}

// TestShows: gas that decays to what the night comes to, by a quarter an hour, from
// what the controller held: hour by hour, what of a shift of 0.05 the pH shows.
func TestShows(t *testing.T) {
	const plateau, target, by = 7.25, 6.6, 0.05
	k := nights(10)
	k.Plateau.Base = plateau
	ph := func(hours, by float64) float64 { // the alkalinity off by it, and so the gas
		held := math.Pow(10, plateau-target+by)
		return plateau + by - math.Log10(1+(held-1)*math.Exp(-hours/4))
	}
	for _, hours := range []float64{0, 1, 3, 6, 9, 12, 15} {
		usual := ph(hours, 0)
		want := (ph(hours, by) - usual) / by
		if got := k.shows(usual, target); math.Abs(got-want) > 0.04 {
			t.Errorf("after %v h, at %.2f: %.2f, want %.2f", hours, usual, got, want)
		}
	}
	for ph, want := range map[float64]float64{6.5: 0, 6.6: 0, 7.25: 1, 7.4: 1} {
		if got := k.shows(ph, target); got != want {
			t.Errorf("at %v: %v, want %v", ph, got, want)
		}
	}
}

// TestFound: of alkalinity that was lost since the day before, the valve's share knows
// nothing yet; of what moves the night alone, night and gas say nothing together.
func TestFound(t *testing.T) {
	k := nights(10)
	for _, c := range []struct {
		name        string
		night, gas  float64
		least, most float64
	}{
		{"a fifth of the alkalinity in a day", -0.09, 0.09, -0.1, -0.08},
		{"more is breathed out at night", -0.12, 0.01, -0.04, 0},
		{"the needle valve is turned up", 0, 0.2, -0.05, 0},
	} {
		at := zero.Add(10 * day)
		m := morning{At: at, Plateau: k.Plateau.Base + c.night, Rate: k.Rate.Base + c.gas, Duty: k.Duty.Base}
		x := &tank{course: course{kh: 4, learned: &Learned{Drift: &k}, dosing: dosing{morning: m}}}
		if got := x.found(&view{now: at.Add(15 * time.Hour)}, suspicion{}); got < c.least || got > c.most {
			t.Errorf("%s: %.3f, want %v to %v", c.name, got, c.least, c.most)
		}
		if got := x.found(&view{now: at.Add(30 * time.Hour)}, suspicion{alone: 0.5}); got != 0.5 {
			t.Errorf("%s, longer ago than is remembered: %.3f, want what was learned", c.name, got)
		}
	}
}

// TestDriftLimit: the limit of a tank whose mornings lie apart is passed once in
// ten years by themselves.
func TestDriftLimit(t *testing.T) {
	if l := statistic.EwmaLimit(driftLambda, 3650); math.Abs(l-driftWide) > 0.01 {
		t.Errorf("%.3f standard deviations for a run length of ten years, want %v", l, driftWide)
	}
	k := nights(10)
	if got := k.limit(); got != driftLimit {
		t.Errorf("a quiet tank's limit: %v, want %v", got, driftLimit)
	}
	k.Plateau.Steps = 0.1 * 1.128
	if got, want := k.limit(), driftWide*0.1*statistic.EwmaSpread(driftLambda); math.Abs(got-want) > 1e-3 {
		t.Errorf("the limit where mornings lie 0.1 apart: %v, want %v", got, want)
	}
}

// TestDriftAnew: how far mornings lie apart outlives a calibration, or the drift of a
// probe that was calibrated badly would pass for the noise of a tank that is learned
// again; and three mornings do not know it yet.
func TestDriftAnew(t *testing.T) {
	drifts := func(k Drift) Drift {
		k = k.anew(zero.Add(10*day), 4)
		for n := range 3 {
			k.take(morning{At: zero.Add(day * time.Duration(11+n)), Plateau: 7.9 + 0.08*float64(n), Rate: -7}, 4)
		}
		return k
	}
	if k := drifts(nights(10)); k.Plateau.sd() > 0.01 || k.limit() != driftLimit {
		t.Errorf("after ten quiet nights: mornings %.3f apart, limit %.3f", k.Plateau.sd(), k.limit())
	}
	if k := drifts(nights(2)); k.Plateau.sd() < 0.07 {
		t.Errorf("after two nights: mornings %.3f apart, want what has been seen since", k.Plateau.sd())
	}
}

// TestValveShare: the share is that of whole cycles, wherever the looking began.
func TestValveShare(t *testing.T) {
	var d duty
	at := func(m int) aquarium.Instant { return zero.Add(time.Duration(m) * time.Minute) }
	for m := range 400 { // open for 15 of 60 minutes
		since := at(m - m%60)
		on := m%60 < 15
		if !on {
			since = since.Add(15 * time.Minute)
		}
		d.follow(on, since)
	}
	if got := math.Pow(10, d.share()); math.Abs(got-0.25) > 1e-9 {
		t.Errorf("share %v, want a quarter", got)
	}
	if got := (&duty{first: at(0), last: at(100), cycles: 5, open: time.Hour}).share(); got != 0 {
		t.Errorf("of less than two hours: %v, want nothing", got)
	}
}

// TestNightly: by the evening already the pH shows what the alkalinity has lost, whatever the
// pH was in its band when the gas ended, and tells it from what the morning found and has not
// grown since.
func TestNightly(t *testing.T) {
	const plateau, target, found = 7.25, 6.6, -0.1
	ph := func(hours, from, by float64) float64 { // gas held at the target, and off by from when it ended
		held := math.Pow(10, plateau-target-from+by)
		return plateau + by - math.Log10(1+(held-1)*math.Exp(-hours/4))
	}
	ends := []float64{0.04, -0.03, 0.01, -0.04, 0.02, 0.03, -0.01}
	for _, c := range []struct {
		name     string
		from, by float64
		want     bool
	}{
		{"as usual", 0, 0, false},
		{"the gas ended under its target", -0.05, -0.1, false},
		{"a tenth, as in the morning", 0.02, -0.1, false},
		{"twice that", -0.02, -0.2, true},
		{"twice that, and the gas ended over its target", 0.05, -0.2, true},
	} {
		site := library()
		site.Timezone = time.UTC
		dosedBy(8*60, 17*60)(&site.Tanks[0])
		w := New(site)
		u := w.tanks[0]
		now := zero.Floor(day).Add(22*h + 10*time.Second)
		var hours []Hour
		for i := range 7*24 + 22 {
			from, by := c.from, c.by
			if d := i / 24; d < 7 {
				from, by = ends[d], 0
			}
			after := float64(i%24) + 0.5 - 17
			hours = append(hours, Hour{N: 60, Mean: ph(max(0, after), from, by)})
		}
		k := nights(10)
		k.Plateau.Base = plateau
		u.learned, u.clock = &Learned{Through: now.Floor(time.Hour), Drift: &k, Sensors: map[aquarium.SensorID]Diary{"ph": {Hours: hours}}}, 22*60
		u.dosing.last = now.Floor(day).Add(17 * h)
		if got := u.nightly(&view{w: w, now: now}, found); got != c.want {
			t.Errorf("%s: nightly %v, want %v", c.name, got, c.want)
		}
	}
}
