package text

import (
	"math"
	"strconv"
	"strings"

	"lentic/collector/aquarium"
)

// style is how a unit is written in words: as finely as a keeper reads it and
// no finer.
type style struct {
	step     float64 // rounded to multiples of it
	decimals int
	sign     bool // a plus is written too
	word     string
}

var styles = map[aquarium.Unit]style{
	"pH":    {0.01, 2, false, ""},
	"Cel":   {0.1, 1, false, "C"},
	"mm":    {1, 0, true, "mm"},
	"l/h":   {10, 0, false, "l/h"},
	"mg/l":  {1, 0, false, "mg/l"},
	"l":     {1, 0, false, "l"},
	"dKH":   {0.1, 1, false, "dKH"},
	"uS/cm": {1, 0, false, "uS/cm"},
	"%RH":   {1, 0, false, "%"},
	"%EL":   {1, 0, false, "%"},
	"%":     {1, 0, false, "%"},
	"ppm":   {10, 0, false, "ppm"},
	"W":     {1, 0, false, "W"},
	"kg":    {0.1, 1, false, "kg"},
	"kPa":   {1, 0, false, "kPa"},
	"ml":    {1, 0, false, "ml"},
	"GB":    {0.1, 1, false, "GB"},
	"K/h":   {0.1, 1, false, "C/h"},
	"mm/h":  {1, 0, false, "mm/h"},
}

// Number writes v as finely as u is read, without the unit: pH with two
// decimals, temperature with one, a level in whole millimetres with its sign,
// a flow to 10 l/h, CO2 in whole mg/l. Anything else gets three significant
// digits. A value that is no number is "?".
func Number(v float64, u aquarium.Unit) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "?"
	}
	s, ok := styles[u]
	if !ok {
		return plain(strconv.FormatFloat(v, 'g', 3, 64))
	}
	t := strconv.FormatFloat(round(v, s.step), 'f', s.decimals, 64)
	if s.sign && t[0] != '-' && t != "0" {
		t = "+" + t
	}
	return t
}

// Value is Number with its unit: "pH 5.98", "26.1 C", "+14 mm".
func Value(v float64, u aquarium.Unit) string {
	n := Number(v, u)
	switch {
	case u == "pH":
		return "pH " + n
	case styles[u].word != "":
		return n + " " + styles[u].word
	case u == "":
		return n
	}
	return n + " " + GSM7(string(u))
}

// Trend writes a change per hour with its sign: "-0.4 per h", "+20 mm per h".
// It is empty where the change rounds to nothing.
func Trend(perHour float64, u aquarium.Unit) string {
	n := Number(perHour, u)
	if v, err := strconv.ParseFloat(n, 64); err != nil || v == 0 {
		return ""
	}
	if n[0] != '-' && n[0] != '+' {
		n = "+" + n
	}
	if u == "pH" {
		n = strings.TrimRight(strings.TrimRight(n, "0"), ".")
	}
	switch w := styles[u].word; {
	case w == "":
		return n + " per h"
	default:
		return n + " " + w + " per h"
	}
}

// round brings v to a multiple of step, and never to minus zero.
func round(v, step float64) float64 {
	return math.Round(v/step)*step + 0
}

// plain writes an exponent out where it is short enough to be read.
func plain(s string) string {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.Abs(v) >= 1e7 || v != 0 && math.Abs(v) < 1e-3 {
		return s
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}
