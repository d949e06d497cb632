package config

import (
	"fmt"
	"strings"
	"time"

	"lentic/collector/aquarium"
)

var dayNames = []string{"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"}

func parseSpan(s string) (aquarium.Span, error) {
	a, b, ok := strings.Cut(s, "-")
	from, err := aquarium.ParseClock(strings.TrimSpace(a))
	if !ok || err != nil {
		return aquarium.Span{}, fmt.Errorf("%s is no stretch of the day: want two times, as 08:00-18:00", short(s))
	}
	to, err := aquarium.ParseClock(strings.TrimSpace(b))
	if err != nil {
		return aquarium.Span{}, fmt.Errorf("%s is no stretch of the day: want two times, as 08:00-18:00", short(s))
	}
	return aquarium.Span{From: from, To: to}, nil
}

// parseWeek reads "Mon-Fri 08:00-18:00, Sat 10:00-16:00" and "Mon, Wed
// 09:00-12:00"; a stretch without days is every day's.
func parseWeek(s string) (aquarium.Week, error) {
	var w aquarium.Week
	var days [7]bool
	pending := false
	for _, item := range strings.FieldsFunc(s, func(c rune) bool { return c == ',' || c == ';' }) {
		item = strings.TrimSpace(item)
		first, rest, _ := strings.Cut(item, " ")
		if first != "" && first[0] >= '0' && first[0] <= '9' {
			if !pending {
				days = [7]bool{true, true, true, true, true, true, true}
			}
			rest = item
		} else if err := addDays(&days, first); err != nil {
			return nil, err
		}
		pending = true
		if rest = strings.TrimSpace(rest); rest == "" {
			continue
		}
		sp, err := parseSpan(rest)
		if err != nil {
			return nil, err
		}
		w = append(w, aquarium.WeekSpan{Days: days, Span: sp})
		days, pending = [7]bool{}, false
	}
	if pending || len(w) == 0 {
		return nil, fmt.Errorf("%s has no times: want days and times, as Mon-Fri 08:00-18:00", short(s))
	}
	return w, nil
}

// addDays sets "Mon", or "Sat-Mon" around the week's end.
func addDays(days *[7]bool, s string) error {
	a, b, ranged := strings.Cut(s, "-")
	from, ok := parseDay(a)
	to := from
	if ranged && ok {
		to, ok = parseDay(b)
	}
	if !ok {
		return fmt.Errorf("%s is no day of the week%s", short(s), meant(s, dayNames))
	}
	for d := from; ; d = (d + 1) % 7 {
		days[d] = true
		if d == to {
			return nil
		}
	}
}

func parseDay(s string) (time.Weekday, bool) {
	for i, name := range dayNames {
		if strings.EqualFold(s, name) || strings.EqualFold(s, time.Weekday(i).String()) {
			return time.Weekday(i), true
		}
	}
	return 0, false
}

// parseWeekTime reads "Sun 06:00", "daily 06:00" and "06:00".
func parseWeekTime(s string) (aquarium.WeekTime, error) {
	day, at, ok := strings.Cut(strings.TrimSpace(s), " ")
	if !ok {
		day, at = "daily", day
	}
	var w aquarium.WeekTime
	if strings.EqualFold(day, "daily") {
		w.Daily = true
	} else if w.Day, ok = parseDay(day); !ok {
		return w, fmt.Errorf("%s is no day of the week%s", short(day), meant(day, append([]string{"daily"}, dayNames...)))
	}
	var err error
	w.At, err = aquarium.ParseClock(strings.TrimSpace(at))
	return w, err
}

// parseStop reads "12:30 10m".
func parseStop(s string) (aquarium.Stop, error) {
	at, long, _ := strings.Cut(strings.TrimSpace(s), " ")
	c, err := aquarium.ParseClock(at)
	if err != nil {
		return aquarium.Stop{}, err
	}
	d, ok := parseDuration(strings.TrimSpace(long))
	if !ok || d < time.Minute || d > 6*time.Hour {
		return aquarium.Stop{}, fmt.Errorf("%s: want a time of day and how long, 1m to 6h, as 12:30 10m", short(s))
	}
	return aquarium.Stop{At: c, For: d}, nil
}
