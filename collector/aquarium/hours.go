package aquarium

import (
	"fmt"
	"time"
)

// Clock is a time of day in minutes after midnight, 0 to 1440.
type Clock int

func (c Clock) String() string { return fmt.Sprintf("%02d:%02d", int(c)/60, int(c)%60) }

// ClockOf is the time of day of t in its own location.
func ClockOf(t time.Time) Clock { return Clock(t.Hour()*60 + t.Minute()) }

// ParseClock reads "08:00"; "24:00" is the end of the day.
func ParseClock(s string) (Clock, error) {
	var h, m int
	if len(s) != 5 || s[2] != ':' || !digits(s[:2]) || !digits(s[3:]) {
		return 0, fmt.Errorf("time of day %q: want HH:MM, as 08:00", s)
	}
	h = int(s[0]-'0')*10 + int(s[1]-'0')
	m = int(s[3]-'0')*10 + int(s[4]-'0')
	if h > 24 || m > 59 || h == 24 && m > 0 {
		return 0, fmt.Errorf("time of day %q: want 00:00 to 24:00", s)
	}
	return Clock(h*60 + m), nil
}

func digits(s string) bool {
	for i := 0; i < len(s); i++ {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return true
}

// Span is a stretch of the day, From included and To not. To before From wraps
// past midnight; the two equal, as in the zero Span, means the whole day.
type Span struct{ From, To Clock }

// Contains reports whether the time of day c lies in the span.
func (s Span) Contains(c Clock) bool {
	switch {
	case s.From == s.To:
		return true
	case s.From < s.To:
		return c >= s.From && c < s.To
	default:
		return c >= s.From || c < s.To
	}
}

func (s Span) String() string {
	if s.From == s.To {
		return "day and night"
	}
	return s.From.String() + "-" + s.To.String()
}

// Stop is a planned pause of a machine: from a time of day, for so long.
type Stop struct {
	At  Clock
	For time.Duration
}

// Week is a set of spans on days of the week. An empty week contains no time.
type Week []WeekSpan

// WeekSpan is one span on some days; a span that wraps belongs to the day it
// begins on.
type WeekSpan struct {
	Days [7]bool // by time.Weekday
	Span Span
}

// Contains reports whether t, in its own location, lies in the week.
func (w Week) Contains(t time.Time) bool {
	c := ClockOf(t)
	day := int(t.Weekday())
	before := (day + 6) % 7
	for _, s := range w {
		wraps := s.Span.From > s.Span.To
		switch {
		case s.Days[day] && !wraps && s.Span.Contains(c):
			return true
		case wraps && (s.Days[day] && c >= s.Span.From || s.Days[before] && c < s.Span.To):
			return true
		}
	}
	return false
}
