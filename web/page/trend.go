package page

import (
	"math"
	"slices"
	"time"
)

// leastDays is how many days a change per week needs to rest on: with fewer,
// the day's own course of pH and temperature would be taken for a trend.
const leastDays = 3

// perWeek is how a series changes in a week: the median slope between the
// medians of its days (Theil 1950, Sen 1968), which neither a spike nor one
// odd day can move. ok is false with less than three days of readings.
func perWeek(s Series, zone *time.Location) (slope float64, days int, ok bool) {
	byDay := map[int][]float64{}
	for i := range s.T {
		if !s.poor(i) {
			d := dayOf(s.T[i].In(zone))
			byDay[d] = append(byDay[d], s.Mean[i])
		}
	}
	keys := make([]int, 0, len(byDay))
	for d := range byDay {
		keys = append(keys, d)
	}
	slices.Sort(keys)
	if len(keys) < leastDays {
		return 0, len(keys), false
	}
	level := make([]float64, len(keys))
	for i, d := range keys {
		level[i] = median(byDay[d])
	}
	var slopes []float64
	for i := range keys {
		for j := i + 1; j < len(keys); j++ {
			slopes = append(slopes, (level[j]-level[i])/float64(keys[j]-keys[i]))
		}
	}
	return median(slopes) * 7, len(keys), true
}

// median of vs, which is sorted; NaN for none.
func median(vs []float64) float64 {
	if len(vs) == 0 {
		return math.NaN()
	}
	slices.Sort(vs)
	n := len(vs)
	return (vs[(n-1)/2] + vs[n/2]) / 2
}
