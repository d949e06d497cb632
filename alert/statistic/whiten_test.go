package statistic

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// simulated is the mean run length of a one-sided CUSUM over an AR(1) series of
// mean 0 and standard deviation 1, told to it as it is or whitened with a time
// constant that may be wrong, and then divided by spread.
func simulated(rounds int, correlation float64, whiten bool, believed, spread, shift, h float64) float64 {
	r := rand.New(rand.NewPCG(7, uint64(correlation*1000)))
	total := 0
	const every = 10_000
	for range rounds {
		c := Cusum{K: 0.5, H: h}
		w := Whitener{Tau: Forgets(believed, every*time.Millisecond), SD: 1}
		x := r.NormFloat64()
		for i := int64(1); ; i++ {
			z := x + shift
			if whiten {
				z = w.Take(i*every, z) / spread
			}
			if c.Take(z); c.Rising() {
				total += int(i)
				break
			}
			x = correlation*x + math.Sqrt(1-correlation*correlation)*r.NormFloat64()
		}
	}
	return float64(total) / float64(rounds)
}

// TestWhitenedRateIsKept: by simulation of 2,000 runs, whose mean is then known
// to 2.2 % (one standard deviation): the whitened chart keeps the run length it
// was asked for at any correlation, within 6 %. The same chart on the readings
// themselves signals many times too often.
func TestWhitenedRateIsKept(t *testing.T) {
	const want = 500
	h := CusumLimit(0.5, want)
	for _, phi := range []float64{0, 0.5, 0.9, 0.98} {
		got := simulated(2000, phi, true, phi, 1, 0, h)
		raw := simulated(1000, phi, false, 0, 1, 0, h)
		t.Logf("correlation %.2f: whitened %.0f, as they are %.0f, wanted %v", phi, got, raw, want)
		near(t, "whitened", got/want, 1, 0.06)
		if phi >= 0.5 && raw > want/3 {
			t.Errorf("correlation %v: %v without whitening; what is the whitening for?", phi, raw)
		}
	}
}

// TestWhitenedWithAWrongConstant says what a correlation learned wrong costs. One
// believed too high makes what is new look larger than it is: the rate is kept
// only if that is divided by its own spread. One believed too low is not mended
// by it. So a constant is rounded up, and what comes out measured.
func TestWhitenedWithAWrongConstant(t *testing.T) {
	const want, phi = 500, 0.9
	h := CusumLimit(0.5, want)
	for _, tt := range []struct {
		believed float64
		own      bool // divided by its own spread
		kept     bool
	}{{0.93, false, false}, {0.93, true, true}, {0.85, true, false}} {
		spread := 1.0
		if b := tt.believed; tt.own { // of x - b*y where x and y have correlation phi
			spread = math.Sqrt((1 - 2*b*phi + b*b) / (1 - b*b))
		}
		got := simulated(2000, phi, true, tt.believed, spread, 0, h)
		t.Logf("correlation %v believed %v, own spread %v: %.0f, wanted %v", phi, tt.believed, tt.own, got, want)
		if kept := got > want*0.95; kept != tt.kept {
			t.Errorf("believed %v, own spread %v: run length %v, wanted %v", tt.believed, tt.own, got, want)
		}
	}
}

// TestWhitenedShift: a lasting shift is found as soon as Remains says.
func TestWhitenedShift(t *testing.T) {
	h := CusumLimit(0.5, 500)
	const phi, shift = 0.5, 2.0
	got := simulated(4000, phi, true, phi, 1, shift, h)
	want := CusumRunLength(0.5, h, 0, shift*Remains(phi))
	t.Logf("shift of %v at correlation %v: %.2f readings, by the sums %.2f", shift, phi, got, want)
	if got > want*1.05 { // the first reading brings all of the shift, so it may be sooner
		t.Errorf("%v readings, want at most %v", got, want)
	}
}

// TestWhitenedAtAnySpacing: readings at random times are made independent too.
func TestWhitenedAtAnySpacing(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	w := Whitener{Tau: time.Minute, SD: 2}
	x, at := r.NormFloat64(), int64(0)
	var zs []float64
	var m Moments
	for range 100_000 {
		z := w.Take(at, 2*x)
		zs = append(zs, z)
		m.Take(z)
		gap := 1000 + r.Int64N(300_000)
		at += gap
		phi := math.Exp(-float64(gap) / 60_000)
		x = phi*x + math.Sqrt(1-phi*phi)*r.NormFloat64()
	}
	near(t, "sd", m.SD(), 1, 0.01)
	near(t, "lag 1", Autocorrelation(zs, 1), 0, 0.013) // four standard errors
}

func TestForgets(t *testing.T) {
	near(t, "there and back", Repeats(Forgets(0.9, 10*time.Second), 10*time.Second), 0.9, 1e-9)
	if Forgets(-0.1, time.Second) != 0 || Repeats(0, time.Second) != 0 {
		t.Error("no correlation is none")
	}
	near(t, "a month of looks each ten minutes", Looks(30*24*time.Hour, 10*time.Minute), 4320, 0)
}
