package tanks

import (
	"math"
	"testing"
	"time"
)

// TestSource holds what the measures rely on: the same readings for the same
// seed and tank, rising stamps within their turn, and values that a tank can
// have.
func TestSource(t *testing.T) {
	start := time.Date(2031, 3, 1, 0, 0, 0, 0, time.UTC).UnixMilli()
	for _, stamps := range []Stamps{Own, Message, Seconds} {
		t.Run(stamps.String(), func(t *testing.T) {
			one, many := NewSource(1, stamps, start, 7), NewSource(3, stamps, start, 7)
			last := make([]int64, 3*Sensors)
			for turn := range int64(2 * 8640) {
				few, all := one.Next(nil), many.Next(nil)
				if len(few) != Sensors || len(all) != 3*Sensors {
					t.Fatalf("turn %d: %d and %d readings", turn, len(few), len(all))
				}
				for i, r := range all {
					if i < Sensors && r != few[i] {
						t.Fatalf("turn %d: got %v beside other tanks, %v alone", turn, r, few[i])
					}
					if begin := start + turn*Every; r.At < begin || r.At >= begin+Every || r.At <= last[r.Series] {
						t.Fatalf("turn %d: %v after %d", turn, r, last[r.Series])
					}
					if stamps != Own && r.At != all[i/Sensors*Sensors].At || stamps == Seconds && r.At%1000 != 0 {
						t.Fatalf("turn %d: stamp of %v", turn, r)
					}
					last[r.Series] = r.At
				}
				if v := all[ph].Value; v < 6 || v > 8 {
					t.Fatalf("turn %d: pH %v", turn, v)
				}
				if v := all[water].Value; v < 23 || v > 26 {
					t.Fatalf("turn %d: %v Cel", turn, v)
				}
			}
		})
	}
}

// TestNoiseBits: what a source says its readings hold is what a coder with the
// true odds would write. The entropy of rounded noise that is wide against a
// step is that of the normal distribution, log2(sigma sqrt(2 pi e)) (Shannon
// 1948, section 20).
func TestNoiseBits(t *testing.T) {
	r, sum := rng(12345), 0.0
	const n, mean, sigma = 200_000, 10.3, 8.0
	for range n {
		sum += bits(round(mean+sigma*r.normal()), mean, sigma)
	}
	want := math.Log2(sigma * math.Sqrt(2*math.Pi*math.E))
	if got := sum / n; math.Abs(got-want) > 0.01 {
		t.Errorf("got %.4f bits, want %.4f", got, want)
	}
}
