package text

import (
	"math"
	"strconv"
	"strings"
	"time"

	"lentic/collector/aquarium"
)

// wording is what one alarm says, in the parts a message is made of.
type wording struct {
	What  string   // what is wrong, in words
	Proof []string // the number that proves it first, then what gives it meaning
	Trend string   // of that number; may be missing
	Act   string   // the one first act
}

// view is an alarm as a wording looks at it: where it is, and its evidence.
type view struct {
	aquarium.Alarm
	site aquarium.Site
	tank *aquarium.Tank // nil for a whole site and for lentic itself
}

func viewOf(a aquarium.Alarm, s aquarium.Site) view {
	return view{a, s, s.Tank(a.Tank)}
}

// has reports whether the evidence carries a value at all.
func (v view) has() bool {
	e := v.Evidence
	return e.Unit != "" || e.Sensor != "" || e.Value != 0
}

// value is the evidence's number with its unit, or "".
func (v view) value() string {
	if !v.has() {
		return ""
	}
	return Value(v.Evidence.Value, v.Evidence.Unit)
}

// labelled is value with a word before it, as "level +14 mm".
func (v view) labelled(label string) string {
	if s := v.value(); s != "" {
		return label + " " + s
	}
	return ""
}

// fact is a fact's number with its unit, or "" when it is missing.
func (v view) fact(name string) string {
	f, ok := v.Evidence.Fact(name)
	if !ok {
		return ""
	}
	return Value(f.Value, f.Unit)
}

// with is a fact's number behind a label, or "" when it is missing.
func (v view) with(label, name string) string {
	if s := v.fact(name); s != "" {
		return label + " " + s
	}
	return ""
}

// word is a fact's word, or "".
func (v view) word(name string) string {
	f, _ := v.Evidence.Fact(name)
	return f.Word
}

// bound is the limit the value was held against, as "bound 28.0": its unit is that of the value before it.
func (v view) bound() string {
	if v.Evidence.Limit == nil {
		return ""
	}
	return "bound " + Number(*v.Evidence.Limit, v.Evidence.Unit)
}

// off is how far the value lies from a reference in the same unit, as
// "0.62 under target"; "" where the reference is missing.
func (v view) off(name, what string) string {
	return v.apart(v.Evidence.Value, v.Evidence.Unit, name, what)
}

// offExpected is off for what the value should have been.
func (v view) offExpected(what string) string {
	e := v.Evidence
	if e.Expected == nil {
		return ""
	}
	return between(e.Value, *e.Expected, e.Unit, what)
}

// factOff is off for a fact instead of the value.
func (v view) factOff(fact, name, what string) string {
	f, ok := v.Evidence.Fact(fact)
	if !ok {
		return ""
	}
	return v.apart(f.Value, f.Unit, name, what)
}

func (v view) apart(value float64, u aquarium.Unit, name, what string) string {
	f, ok := v.Evidence.Fact(name)
	if !ok || f.Unit != u {
		return ""
	}
	return between(value, f.Value, u, what)
}

// between is how far a value lies from a reference.
func between(value, reference float64, u aquarium.Unit, what string) string {
	side, d := "over", value-reference
	if d < 0 {
		side, d = "under", -d
	}
	return strings.TrimPrefix(Number(d, u), "+") + " " + side + " " + what
}

// lasting is a fact in seconds, minutes or hours as people say it.
func (v view) lasting(label, name string) string {
	f, ok := v.Evidence.Fact(name)
	if !ok {
		return ""
	}
	d, ok := duration(f.Value, f.Unit)
	if !ok || d > -time.Second && d < time.Second {
		return ""
	}
	return label + " " + Span(d)
}

func duration(n float64, u aquarium.Unit) (time.Duration, bool) {
	per := map[aquarium.Unit]time.Duration{"ms": time.Millisecond, "s": time.Second, "min": time.Minute, "h": time.Hour, "d": 24 * time.Hour}[u]
	if per == 0 || math.IsNaN(n) || math.Abs(n) > 1e9 {
		return 0, false
	}
	return time.Duration(n * float64(per)), true
}

// Span writes a length of time as people say it, in its largest unit that
// keeps it honest: "40 s", "25 min", "3 h", "2 days". The sign is dropped.
func Span(d time.Duration) string {
	if d < 0 {
		d = -d
	}
	n := func(per time.Duration) string {
		return strconv.FormatInt(int64((d+per/2)/per), 10)
	}
	switch {
	case d < 90*time.Second:
		return n(time.Second) + " s"
	case d < 100*time.Minute:
		return n(time.Minute) + " min"
	case d < 48*time.Hour:
		return n(time.Hour) + " h"
	default:
		return n(24*time.Hour) + " days"
	}
}

// trend is the evidence's change per hour, or "".
func (v view) trend() string {
	if v.Evidence.PerHour == nil {
		return ""
	}
	return Trend(*v.Evidence.PerHour, v.Evidence.Unit)
}

// part names the piece of equipment: a filter's or doser's id.
func (v view) part() string { return shorten(GSM7(string(v.Equipment)), longestPart) }

// longestPart is how much of an id a text has room for.
const longestPart = 16

// co2 reports whether the tank is known to have CO2 dosing.
func (v view) co2() bool { return v.tank != nil && v.tank.Equipment.CO2 != nil }

// some keeps the parts that are not missing.
func some(parts ...string) []string {
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, p)
		}
	}
	return out
}
