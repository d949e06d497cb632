package page

import (
	"math"

	"lentic/collector/aquarium"
)

// scale is the span of values a strip shows.
type scale struct{ lo, hi float64 }

// The moving strips work out the same in the browser, for there the data come
// and go: testdata/scales.json holds both to one another.

// scaleOf fits the data and never magnifies noise: a strip is at least its
// MinSpan wide. A bound that lies within one MinSpan of the data is let in. Readings
// that do not count matter only where there are no others.
func scaleOf(st *Strip, series []Series) scale {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range series {
		for i := range s.T {
			if s.poor(i) {
				continue
			}
			lo, hi = math.Min(lo, s.Min[i]), math.Max(hi, s.Max[i])
		}
	}
	for _, s := range series {
		if lo <= hi {
			break // what does not count stretches nothing
		}
		for _, u := range s.Uncounted {
			lo, hi = math.Min(lo, u.Min), math.Max(hi, u.Max)
		}
	}
	if lo > hi {
		lo, hi = empty(st)
	}
	least, most := lo, hi
	for _, b := range st.Bounds {
		if b.At > least-st.MinSpan && b.At < most+st.MinSpan {
			lo, hi = math.Min(lo, b.At), math.Max(hi, b.At)
		}
	}
	if st.FromZero {
		lo = math.Min(0, lo)
	}
	if short := st.MinSpan - (hi - lo); short > 0 {
		if st.FromZero && lo == 0 {
			hi += short
		} else {
			lo, hi = lo-short/2, hi+short/2
		}
	}
	pad := (hi - lo) * 0.06
	if !st.FromZero || lo < 0 {
		lo -= pad
	}
	return scale{lo, hi + pad}
}

// empty is what a strip without data shows: its bounds, or its least span.
func empty(st *Strip) (lo, hi float64) {
	if len(st.Bounds) == 0 {
		return 0, st.MinSpan
	}
	return st.Bounds[0].At, st.Bounds[0].At
}

// y is where v stands on a strip of height h, 0 on top.
func (s scale) y(v, h float64) float64 { return h - (v-s.lo)/(s.hi-s.lo)*h }

// rules are the round values inside the scale, two to four of them.
func (s scale) rules() []float64 {
	raw := (s.hi - s.lo) / 3
	step := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5, 10} {
		if step*m >= raw {
			step *= m
			break
		}
	}
	var vs []float64
	for k := math.Ceil(s.lo / step); k*step <= s.hi; k++ {
		vs = append(vs, k*step)
	}
	return vs
}

func (s Series) poor(i int) bool { return i < len(s.Poor) && s.Poor[i] }

// joined reports whether a line may be drawn from point i-1 to point i.
func (s Series) joined(i int) bool {
	return i > 0 && (s.Gap <= 0 || s.T[i].Sub(s.T[i-1]) <= s.Gap) && !s.poor(i) && !s.poor(i-1)
}

func find(ss []Series, id aquarium.SensorID) (Series, bool) {
	for _, s := range ss {
		if s.Sensor.ID == id {
			return s, true
		}
	}
	return Series{}, false
}
