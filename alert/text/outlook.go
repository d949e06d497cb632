package text

import (
	"math"
	"strconv"
	"strings"
	"time"

	"lentic/collector/aquarium"
)

// course is where the value goes: "falling 0.35 an hour, passes 5.90 in about
// 20 min".
func (v view) course() string {
	e := v.Evidence
	if e.PerHour == nil || !v.has() {
		return ""
	}
	way, rate, per := "rising", *e.PerHour, " an hour"
	if e.Unit == "l/h" { // what an hour brings is nothing
		rate, per = rate*24*7, " a week"
	}
	if rate < 0 {
		way, rate = "falling", -rate
	}
	much := apart(rate, e.Unit)
	if strings.Trim(Number(rate, e.Unit), "+0.") == "" || strings.HasPrefix(much, "?") {
		return ""
	}
	if e.Unit == "pH" {
		much = strings.TrimRight(much, "0")
	}
	s := way + " " + much + per
	if d := v.ahead(); d > 0 {
		s += ", passes " + v.bare(*e.Limit) + " in about " + about(d)
	}
	return s
}

// farthest is how far ahead a line is drawn on: days later something else will
// have happened. Common practice, no source.
const farthest = 48 * time.Hour

// ahead is how long until the value passes its limit; 0 where it has, does not
// go there, or nobody can tell.
func (v view) ahead() time.Duration {
	e := v.Evidence
	if e.Limit == nil || e.PerHour == nil || *e.PerHour == 0 || !v.Active {
		return 0
	}
	within := v.Cause == aquarium.PHFalling
	if e.Expected != nil {
		within = (e.Value-*e.Limit)*(*e.Expected-*e.Limit) > 0
	}
	h := (*e.Limit - e.Value) / *e.PerHour
	if !within || !(h > 0 && h < farthest.Hours()) {
		return 0
	}
	return time.Duration(h * float64(time.Hour))
}

// projected is the day something is expected.
func (v view) projected() string {
	if v.Projected == 0 {
		return ""
	}
	day := v.Projected.In(v.zone()).Format("2 January 2006")
	if e := v.Evidence; v.Cause == aquarium.FilterClogging && e.Limit != nil {
		return "cleaning due about " + day + ", when " + Value(*e.Limit, e.Unit) + " are left"
	}
	return "expected about " + day
}

// harm is how long until harm if it goes on, with the time of day, because the
// page may be read later than it was written.
func (v view) harm() string {
	m := v.Evidence.HarmIn
	if m == nil || !v.Active || math.IsNaN(*m) || *m > 30*24*60 {
		return ""
	}
	d := coarse(time.Duration(math.Max(0, *m) * float64(time.Minute)))
	if d < 2*time.Minute {
		return "harm may begin from now on"
	}
	s := "harm in about " + about(d) + " if it goes on"
	if at := judged(&v.Alarm); at != 0 && d < 24*time.Hour {
		s += ", by about " + at.Add(d).In(v.zone()).Format("15:04")
	}
	return strings.Join(some(s, harmAssumes[v.word("assumed")]), ", ")
}

func (v view) zone() *time.Location {
	if v.site.Timezone == nil {
		return time.UTC
	}
	return v.site.Timezone
}

// coarse rounds what a line that is drawn on gives down, so that nobody is
// promised more time than there is.
func coarse(d time.Duration) time.Duration {
	switch {
	case d < 15*time.Minute:
		return d.Truncate(time.Minute)
	case d < 2*time.Hour:
		return d.Truncate(5 * time.Minute)
	case d < 48*time.Hour:
		return d.Truncate(time.Hour)
	}
	return d.Truncate(24 * time.Hour)
}

// about is how a length of time is told that is not known to the minute.
func about(d time.Duration) string {
	switch d = coarse(d); {
	case d < time.Minute:
		return "a minute"
	case d < 2*time.Hour:
		return strconv.Itoa(int(d.Minutes())) + " min"
	}
	return Span(d)
}

// spell is Span, with a minute that is not told in seconds.
func spell(d time.Duration) string {
	if d >= time.Minute && d < 90*time.Second {
		return "1 min"
	}
	return Span(d)
}
