package main

import (
	"fmt"
	"slices"
	"time"
)

func median[T int | int64 | float64 | time.Duration](all []T) T {
	if len(all) == 0 {
		return 0
	}
	s := slices.Sorted(slices.Values(all))
	return s[len(s)/2]
}

func took(name string, d time.Duration) amount {
	return amount{name, float64(d), durationText(d)}
}

func durationText(d time.Duration) string {
	switch {
	case d < 10*time.Microsecond:
		return fmt.Sprintf("%d ns", d.Nanoseconds())
	case d < 10*time.Millisecond:
		return fmt.Sprintf("%.0f us", float64(d)/1e3)
	case d < 10*time.Second:
		return fmt.Sprintf("%.1f ms", float64(d)/1e6)
	}
	return fmt.Sprintf("%.1f s", d.Seconds())
}

// rate is so many readings in that time.
func rate(name string, n int64, d time.Duration) amount {
	v := float64(n) / d.Seconds()
	text := fmt.Sprintf("%.0f/s", v)
	switch {
	case v >= 1e7:
		text = fmt.Sprintf("%.1f M/s", v/1e6)
	case v >= 1e4:
		text = fmt.Sprintf("%.0f k/s", v/1e3)
	}
	return amount{name, v, text}
}

// each is bytes a reading.
func each(name string, v float64) amount { return amount{name, v, fmt.Sprintf("%.3f B", v)} }

func bytesText(n int64) string {
	switch {
	case n >= 10<<30:
		return fmt.Sprintf("%d GiB", n>>30)
	case n >= 10<<20:
		return fmt.Sprintf("%d MiB", n>>20)
	}
	return fmt.Sprintf("%d KiB", n>>10)
}

func size(name string, n int64) amount { return amount{name, float64(n), bytesText(n)} }
