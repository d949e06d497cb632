package page

import (
	"time"

	"lentic/collector/aquarium"
)

// tick is a rule across the strips; one with a text is a heavier one.
type tick struct {
	X    float64 // per cent of the width
	Text string
}

// ticks rules a stretch of time like recorder paper: hours or days, in the
// site's own time, so that a change of the clocks moves no midnight.
func ticks(from, to aquarium.Instant, zone *time.Location) []tick {
	span := to.Sub(from)
	if span <= 0 {
		return nil
	}
	every, label, layout := ruling(span)
	day := from.In(zone)
	y, m, d := day.Date()
	var ts []tick
	for n := 0; n < 1000; n++ {
		var t time.Time
		if every < 1440 {
			t = time.Date(y, m, d, 0, n*every, 0, 0, day.Location())
		} else {
			t = time.Date(y, m, d+n*every/1440, 0, 0, 0, 0, day.Location())
		}
		at := aquarium.At(t)
		if at > to {
			break
		}
		if at < from {
			continue
		}
		k := tick{X: percent(at, from, to)}
		if label(t) && k.X > 3 && k.X < 97 {
			k.Text = t.Format(layout)
			if every < 1440 && t.Hour() == 0 && t.Minute() == 0 {
				k.Text = t.Format("Mon 2")
			}
		}
		ts = append(ts, k)
	}
	return ts
}

// ruling is the minutes between rules, which of them are labelled, and how.
func ruling(span time.Duration) (every int, label func(time.Time) bool, layout string) {
	hours := func(n int) func(time.Time) bool {
		return func(t time.Time) bool { return t.Minute() == 0 && t.Hour()%n == 0 }
	}
	const day = 24 * time.Hour
	switch {
	case span <= 3*time.Hour:
		return 15, func(t time.Time) bool { return t.Minute()%30 == 0 }, "15:04"
	case span <= 8*time.Hour:
		return 60, hours(2), "15:04"
	case span <= 36*time.Hour:
		return 60, hours(6), "15:04"
	case span <= 8*day:
		return 720, hours(24), "Mon 2"
	case span <= 50*day:
		return 1440, func(t time.Time) bool { return t.Weekday() == time.Monday }, "2 Jan"
	}
	return 7 * 1440, func(t time.Time) bool { return t.Day() <= 7 }, "Jan"
}

func percent(at, from, to aquarium.Instant) float64 {
	return float64(at-from) / float64(to-from) * 100
}

// nights are the stretches in which the tank's lights are off, as per cent of
// the width; none where the lights' times are not known.
func nights(lights *aquarium.Span, from, to aquarium.Instant, zone *time.Location) []box {
	if lights == nil || lights.From == lights.To || to.Sub(from) > 20*24*time.Hour {
		return nil
	}
	y, m, d := from.In(zone).Date()
	var bs []box
	for n := -1; n < 40; n++ {
		dusk := time.Date(y, m, d+n, 0, int(lights.To), 0, 0, from.In(zone).Location())
		next := n
		if lights.From < lights.To {
			next++
		}
		dawn := time.Date(y, m, d+next, 0, int(lights.From), 0, 0, dusk.Location())
		a, b := max(aquarium.At(dusk), from), min(aquarium.At(dawn), to)
		if aquarium.At(dusk) >= to {
			break
		}
		if a < b {
			bs = append(bs, box{percent(a, from, to), percent(b, from, to) - percent(a, from, to)})
		}
	}
	return bs
}

// box is a stretch of a strip in per cent of its width.
type box struct{ X, W float64 }
