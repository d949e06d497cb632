package water

import (
	"fmt"
	"math"
	"time"
)

// Weighing is what a gas cylinder weighed, and how long after the first one.
type Weighing struct {
	After time.Duration
	Mass  Kilogram
}

// leastWeighings and leastWeighed: a line through fewer points, or over less
// time, says nothing of the days to come. Common practice, no source.
const (
	leastWeighings = 5
	leastWeighed   = 24 * time.Hour
)

// CylinderDays is how long after the last weighing a cylinder of that tare is
// empty, by the straight line through its weights since it was last filled, and
// the limits of that. A CO2 cylinder has liquid in it for most of its life:
// until then its pressure says nothing, and only its weight does. ErrRange
// where it holds less than nothing by 50 g; ErrUndetermined for fewer than five
// weighings, less than a day, or a weight that does not fall.
func CylinderDays(weights []Weighing, tare Kilogram) (Estimate[Day], error) {
	var e Estimate[Day]
	n := len(weights)
	if n < leastWeighings || weights[n-1].After-weights[0].After < leastWeighed {
		return e, fmt.Errorf("%d weighings: %w: want %d, over a day", n, ErrUndetermined, leastWeighings)
	}
	var mt, mm float64 // means
	for _, w := range weights {
		if err := first(contents.check(float64(w.Mass-tare)), cylinders.check(float64(tare))); err != nil {
			return e, err
		}
		mt += w.After.Hours() / 24 / float64(n)
		mm += float64(w.Mass-tare) / float64(n)
	}
	var tt, tm, mmm float64
	for _, w := range weights {
		t, m := w.After.Hours()/24-mt, float64(w.Mass-tare)-mm
		tt, tm, mmm = tt+t*t, tm+t*m, mmm+m*m
	}
	last := weights[n-1].After.Hours() / 24
	slope := tm / tt // kg a day
	rough := math.Sqrt(max(0, mmm-slope*tm) / float64(n-2))
	off := student95(n-2) * rough / math.Sqrt(tt)
	left := mm + slope*(last-mt)
	if slope >= 0 || slope+off >= 0 {
		return e, fmt.Errorf("a weight that falls by %.3f kg a day, give or take %.3f: %w", -slope, off, ErrUndetermined)
	}
	margin := student95(n-2) * rough / math.Sqrt(float64(n))
	days := func(kg, perDay float64) Day { return Day(max(0, kg) / -perDay) }
	return Estimate[Day]{days(left, slope), days(left-margin, slope-off), days(left+margin, slope+off)}, nil
}
