package detect

import (
	"math"
	"testing"
	"time"
)

// TestCalibrationIsAStep: a tenth at once that stays is a calibration; a coarse meter
// in water that is dosed of a morning, which goes down by four of its steps in one
// minute among many, a poor one's noise and a reactor that takes hold at once are none.
func TestCalibrationIsAStep(t *testing.T) {
	for _, c := range []struct {
		name string
		at   func(m int) float64
		want bool
	}{
		{"a tenth down, and it stays", func(m int) float64 { return 7.2 - 0.1*float64(min(m/60, 1)) }, true},
		{"a tenth up while the pH falls by 0.2 an hour", func(m int) float64 { return 6.9 - 0.2*float64(m)/60 + 0.1*float64(min(m/60, 1)) }, true},
		{"0.6 an hour in steps of 0.02, four of them in a minute", func(m int) float64 {
			fall := 0.6 * float64(m) / 60
			if m == 60 {
				fall += 0.05
			}
			return math.Round((7.4-fall)/0.02) * 0.02
		}, false},
		{"a minute's noise of a poor probe", func(m int) float64 { return 6.7 + 0.035*float64(m%3-1) }, false},
		{"a brisk morning, 0.05 a minute and 0.07 in one", func(m int) float64 {
			fell := []float64{0, 0.03, 0.08, 0.13, 0.17, 0.24, 0.27, 0.32, 0.37, 0.41, 0.47, 0.5, 0.52, 0.55, 0.57}
			k := max(0, m-55)
			return 7.66 - fell[min(k, len(fell)-1)] - 0.02*float64(max(0, k-len(fell)+1))
		}, false},
		{"a tenth up in a brisk morning", func(m int) float64 {
			return 7.7 + math.Log10(1/(1+0.12*float64(max(0, m-40)))) + 0.1*float64(min(m/60, 1))
		}, true},
		{"a night's rise", func(m int) float64 { return 6.7 + 0.15*float64(m)/60 }, false},
	} {
		var h calibrations
		for m := range 120 {
			h.follow(zero.Add(time.Duration(m)*time.Minute), c.at(m), false)
		}
		if got := h.at != 0; got != c.want {
			t.Errorf("%s: a calibration %v, want %v", c.name, got, c.want)
		}
	}
}

// TestCalibratedInVisit: what steps in a declared visit and stays is a calibration, also of
// an electrode that comes to it within a minute or two; gas that is let in meanwhile, by
// 0.06 a minute, is none.
func TestCalibratedInVisit(t *testing.T) {
	for _, c := range []struct {
		name string
		at   func(m float64) float64 // minutes after it begins
		want bool
	}{
		{"a tenth, at once", func(m float64) float64 { return 0.1 }, true},
		{"a tenth, of an electrode with a time constant of half a minute", func(m float64) float64 { return 0.1 * (1 - math.Exp(-2*m-1)) }, true},
		{"a quarter, done badly", func(m float64) float64 { return -0.25 }, true},
		{"the morning's gas", func(m float64) float64 { return -math.Log10(1 + 0.16*m) }, false},
		{"a splash", func(m float64) float64 { return 0.1 * max(0, 1-m/3) }, false},
	} {
		var h calibrations
		for m := range 120 {
			v := 8.07
			if m >= 60 {
				v += c.at(float64(m - 60))
			}
			h.follow(zero.Add(time.Duration(m)*time.Minute), math.Round(100*v)/100, true)
		}
		if got := h.at != 0; got != c.want {
			t.Errorf("%s: a calibration %v, want %v", c.name, got, c.want)
		}
	}
}
