package page

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"lentic/collector/aquarium"
)

// thin is the narrow no-break space before a unit; minus the sign that is as
// wide as a plus.
const (
	thin  = "\u202f"
	minus = "\u2212"
)

// shape is how a quantity's numbers are written: as fine as the probe tells
// and a keeper acts on, no finer.
type shape struct {
	unit     string  // as people write it; empty: none
	digits   int     // after the point
	step     float64 // rounded to it; 0: digits decide
	sign     bool    // a plus is written too
	minSpan  float64 // a strip is never narrower, so noise stays small
	fromZero bool    // a strip begins at nothing
}

// shapeOf is how sensor s is written. mark is set where a level counts from
// the tank's working mark, so that its sign means something.
func shapeOf(s aquarium.Sensor, mark bool) shape {
	switch s.Quantity {
	case aquarium.PH:
		return shape{digits: 2, minSpan: 0.5}
	case aquarium.Temperature:
		return shape{unit: "°C", digits: 1, minSpan: 2}
	case aquarium.Level:
		return shape{unit: "mm", sign: mark, minSpan: 10}
	case aquarium.Volume:
		return shape{unit: "l", minSpan: 20}
	case aquarium.Flow:
		return shape{unit: "l/h", step: 10, minSpan: 100, fromZero: true}
	case aquarium.Conductivity:
		return shape{unit: "µS/cm", minSpan: 50}
	case aquarium.Humidity:
		return shape{unit: "%", minSpan: 20}
	case aquarium.Gas:
		return shape{unit: "ppm", step: 10, minSpan: 200}
	case aquarium.Power:
		return shape{unit: "W", minSpan: 20, fromZero: true}
	case aquarium.Mass:
		return shape{unit: "kg", digits: 2, minSpan: 0.5}
	case aquarium.Pressure:
		return shape{unit: "kPa", digits: 1, minSpan: 5}
	case aquarium.Switch:
		return shape{minSpan: 1, fromZero: true}
	}
	if s.ID == CO2Estimate.ID {
		return shape{unit: "mg/l", minSpan: 10, fromZero: true}
	}
	return shape{unit: string(s.Unit), digits: 2, minSpan: 1}
}

// bare is v without its unit.
func (f shape) bare(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "not known"
	}
	if f.step > 0 {
		v = math.Round(v/f.step) * f.step
	}
	s := group(strconv.FormatFloat(math.Abs(v), 'f', f.digits, 64))
	zero := strings.Trim(s, "0.") == ""
	switch {
	case v < 0 && !zero:
		return minus + s
	case f.sign && !zero:
		return "+" + s
	}
	return s
}

// full is v with its unit.
func (f shape) full(v float64) string { return f.with(f.bare(v)) }

func (f shape) with(number string) string {
	if f.unit == "" {
		return number
	}
	return number + thin + f.unit
}

// amount is a number with its unit behind it or its name before it.
var amount = regexp.MustCompile(`(\d) ((?:l/h|mm|mg/l|l|°C|C|dKH|ppm|kg|GB|W|s|min|h|days?)\b|%)|\b(pH|KH) (\d)`)

// unbroken is a line in which no number is parted from its unit or name. In a
// sentence's serif the narrow space is hardly seen, so that it is a whole one.
func unbroken(line string) string {
	const joined = "$1$3\u00a0$2$4"
	// Once more for a number that both a name and a unit belong to.
	return amount.ReplaceAllString(amount.ReplaceAllString(line, joined), joined)
}

func unbrokenLines(lines []string) (out []string) {
	for _, l := range lines {
		out = append(out, unbroken(l))
	}
	return out
}

// change is a difference, always signed, with one digit more than the value
// where the value is coarse: "+0.12", "−3 mm".
func (f shape) change(d float64) string {
	f.sign = true
	if f.step > 0 {
		f.step = 1
	}
	return f.with(f.bare(d))
}

// group sets a comma between thousands.
func group(s string) string {
	whole, rest, point := strings.Cut(s, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if point {
		return whole + "." + rest
	}
	return whole
}

// clock is a moment as somebody at the site would say it at now: the time
// alone today, with its weekday within the week, else with its date.
func clock(at, now aquarium.Instant, zone *time.Location) string {
	if at == 0 {
		return "never"
	}
	t, n := at.In(zone), now.In(zone)
	hm := t.Format("15:04")
	switch days := dayOf(n) - dayOf(t); {
	case days == 0:
		return hm
	case days == 1:
		return "yesterday " + hm
	case days > 1 && days < 7:
		return t.Format("Mon") + " " + hm
	case t.Year() == n.Year():
		return t.Format("2 Jan") + " " + hm
	}
	return t.Format("2 Jan 2006")
}

// day is a date: "Tue 3 March", with its year where it is another one.
func day(at, now aquarium.Instant, zone *time.Location) string {
	t := at.In(zone)
	if t.Year() == now.In(zone).Year() {
		return t.Format("Mon 2 January")
	}
	return t.Format("Mon 2 January 2006")
}

// dayOf counts days of the calendar.
func dayOf(t time.Time) int {
	return int(time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// lasting is a duration in its one or two largest units.
func lasting(d time.Duration) string {
	d = max(d, 0)
	switch {
	case d < time.Minute:
		return strconv.Itoa(int(d/time.Second)) + thin + "s"
	case d < time.Hour:
		return strconv.Itoa(int(d/time.Minute)) + thin + "min"
	case d < 10*time.Hour:
		h, m := int(d/time.Hour), int(d%time.Hour/time.Minute)
		if m == 0 {
			return strconv.Itoa(h) + thin + "h"
		}
		return strconv.Itoa(h) + thin + "h " + strconv.Itoa(m) + thin + "min"
	case d < 48*time.Hour:
		return strconv.Itoa(int(d.Round(time.Hour)/time.Hour)) + thin + "h"
	}
	return strconv.Itoa(int(d/(24*time.Hour))) + " days"
}

// ago says how long before now something was.
func ago(at, now aquarium.Instant) string {
	if now.Sub(at) < time.Second {
		return "just now"
	}
	return lasting(now.Sub(at)) + " ago"
}

// count is "1 alarm", "3 alarms", "no alarms".
func count(n int, one, many string) string {
	switch n {
	case 0:
		return "no " + many
	case 1:
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// list joins words as a sentence does.
func list(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

func upper(s string) string {
	if s == "" || strings.HasPrefix(s, "pH") {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
