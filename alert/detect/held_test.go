package detect

import (
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// openings are so many cycles of 100 minutes, from one of which to the next the gas changes
// by so much, scattering by a hundredth and a half.
func openings(from aquarium.Instant, n int, gas, by, share float64) (cs cycles) {
	for i := range n {
		chance := 0.015 * math.Sin(float64(7*i))
		cs = append(cs, cycle{at: from.Add(time.Duration(100*i) * m), gas: gas + by*float64(i) + chance,
			open: time.Duration(math.Pow(10, share) * float64(100*m)), whole: 100 * m})
	}
	return cs
}

// TestHeld: what moves the gas that holds a tank, and with it the valve's share, is told
// as much as it is, for less of it a KH that was measured since; what moves one of them
// for a reason of its own is not.
func TestHeld(t *testing.T) {
	var k Held
	for i := range 10 {
		k.take(openings(zero.Add(time.Duration(i)*day), 14, -6.86, 0, -0.44), 4)
	}
	for _, c := range []struct {
		name        string
		gas, duty   float64
		kh          float64
		least, most float64
	}{
		{"all is well", 0, 0, 4, -0.01, 0.01},
		{"probe reads 0.2 high", -0.2, 0.17, 4, 0.19, 0.21},
		{"probe reads 0.2 low", 0.2, -0.17, 4, -0.21, -0.19},
		{"softer water, and a hand test", 0.15, -0.13, 2.83, -0.01, 0.01},
		{"plants have grown", 0, 0.15, 4, -0.01, 0.01},
		{"the surface is moved more", 0, 0.1, 4, -0.01, 0.01},
		{"gas less by a third, and as much of it leaves less", -0.18, 0, 4, -0.01, 0.01},
	} {
		cs := openings(zero.Add(10*day), 14, k.Gas.Base+c.gas, 0, k.Duty.Base+c.duty)
		shift, by := k.shift(cs, cs, c.kh)
		if !(shift >= c.least && shift <= c.most) || (by != 0) != (c.kh != 4) {
			t.Errorf("%s: shift %.3f of which a test explains %.3f; want %v to %v", c.name, shift, by, c.least, c.most)
		}
	}
	if l := k.limit(7, 0.02); l != driftLimit {
		t.Errorf("a quiet tank's limit: %v, want %v", l, driftLimit)
	}
	if l, want := k.limit(4, 0.1), driftWide*math.Hypot(k.Gas.sd(), medianWide*0.05); math.Abs(l-want) > 1e-9 {
		t.Errorf("the limit by four cycles that scatter by 0.1: %v, want %v", l, want)
	}
}

// TestHeldStep: a needle valve that is turned is a step, what is lost within days is none.
func TestHeldStep(t *testing.T) {
	before := openings(zero, 8, -6.86, 0, -0.44)
	at := before[len(before)-1].at
	for _, c := range []struct {
		name     string
		by, each float64
		want     bool
	}{
		{"nothing", 0, 0, false},
		{"a needle valve turned down by a third", -0.18, 0, true},
		{"turned up by half", 0.18, 0, true},
		{"alkalinity lost by a fifth a day", 0, 0.0067, false},
		{"an electrode drifts by a tenth a day", 0, -0.0069, false},
	} {
		var x cycling
		for _, y := range append(append(cycles{}, before...), openings(at.Add(100*m), 8, -6.86+c.by, c.each, -0.44)...) {
			x.take(y)
		}
		if (x.stepped >= at && x.stepped <= at.Add(stepCycles*100*m)) != c.want || (x.stepped != 0) != c.want {
			t.Errorf("%s: stepped %v, want %v", c.name, x.stepped.Sub(zero), c.want)
		}
	}
}

// TestTurn: the pH of a controller that nobody tells of, read to a hundredth: between the
// turns it falls by 0.1 in 40 minutes and rises by as much in 80.
func TestTurn(t *testing.T) {
	var x turn
	n := 0
	for i := range 600 {
		at := i % 120
		v := 6.7 - 0.1*float64(at)/40
		if at > 40 {
			v = 6.6 + 0.1*float64(at-40)/80
		}
		if !x.follow(zero.Add(time.Duration(i)*m), math.Round(v*100)/100, 0.05) || !x.known {
			continue
		}
		n++
		want := (math.Pow(10, -6.6) - math.Pow(10, -6.7)) / (2. / 3)
		if x.falls { // it rose until then
			want /= -2
		}
		if math.Abs(x.slope/want-1) > 0.15 {
			t.Errorf("turn %d: %.3g an hour, want %.3g", n, x.slope, want)
		}
	}
	if n < 7 {
		t.Errorf("%d turns, want one each end", n)
	}
}
