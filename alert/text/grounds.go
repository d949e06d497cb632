package text

import (
	"math"
	"strconv"
	"strings"
	"time"

	"lentic/collector/aquarium"
)

// Grounds is what an alarm rests on, in short plain sentences: for the page and
// the mail, where there is room, and never for a telephone.
type Grounds struct {
	// At is when it was so: when the alarm was raised, or got worse, or its
	// readings stopped or came back. 0: not known.
	At aquarium.Instant
	// Lines tell the reading and what it should be, where it goes, how long
	// until harm, and the facts; the reading first.
	Lines    []string
	Excluded []Exclusion
	// Facts are those of the evidence that are anybody's business.
	Facts []aquarium.Fact
}

// Exclusion is a lookalike that was ruled out.
type Exclusion struct {
	What    aquarium.Lookalike
	Because string // the number or word that did it; empty: none that has words
	Text    string // as a sentence
}

// GroundsOf tells what an alarm rests on. What is missing, and what has no
// words, is left out; an alarm without evidence has no lines.
func GroundsOf(a aquarium.Alarm, s aquarium.Site) Grounds {
	v := viewOf(a, s)
	g := Grounds{At: judged(&a), Excluded: v.excluded()}
	for _, f := range a.Evidence.Facts {
		if !silentFacts[f.Name] {
			g.Facts = append(g.Facts, f)
		}
	}
	reading, facts := v.facts(v.reading())
	for _, l := range append([]string{reading, v.course(), v.projected(), v.harm()}, facts...) {
		if l != "" {
			g.Lines = append(g.Lines, upper(l)+".")
		}
	}
	if len(g.All()) == 1 && v.onlyLasts() {
		g.Lines = nil
	}
	return g
}

// onlyLasts reports whether the one fact is how long it has been so, which the
// alarm's sentence says.
func (v view) onlyLasts() bool {
	fs := v.Evidence.Facts
	return len(fs) == 1 && (fs[0].Name == "for" || fs[0].Name == "silent")
}

// All are the lines with what was ruled out after them.
func (g Grounds) All() []string {
	all := g.Lines[:len(g.Lines):len(g.Lines)]
	for _, x := range g.Excluded {
		all = append(all, x.Text)
	}
	return all
}

// meant says what the value should be, as a sentence, where the alarm's own does
// not tell it or how far off it is: for the digest. Else empty.
func meant(a aquarium.Alarm, s aquarium.Site) string {
	v := viewOf(a, s)
	should := v.should()
	if should == "" || v.reading() == "" {
		return ""
	}
	for _, n := range strings.FieldsFunc(Sentence(a, s), func(r rune) bool { return (r < '0' || r > '9') && r != '.' }) {
		n = strings.TrimSuffix(n, ".")
		if n == unsigned(v.bare(*a.Evidence.Expected)) || n == unsigned(v.bare(a.Evidence.Value-*a.Evidence.Expected)) {
			return ""
		}
	}
	return upper(should) + "."
}

func unsigned(number string) string { return strings.TrimLeft(number, "+-") }

// judged is when the evidence was last taken up.
func judged(a *aquarium.Alarm) aquarium.Instant {
	at := a.Raised
	for _, e := range a.History {
		switch aquarium.Event(e.What) {
		case aquarium.Raised, aquarium.Worsened, aquarium.Renamed, aquarium.ReadingsStopped, aquarium.ReadingsBack:
			at = max(at, e.At)
		}
	}
	return at
}

// reading is the value against what it should be and what it is held against:
// "pH 5.98, should be 6.60, 0.62 under it".
func (v view) reading() string {
	e := v.Evidence
	if _, span := duration(0, e.Unit); !v.has() || e.Unit == "" || span {
		return ""
	}
	s := join(v.label(), written(e.Value, e.Unit))
	if e.LastKnown {
		s = "last known " + s
	}
	if v.depthOf() {
		s = strings.Replace(s, "+", "", 1)
	}
	if should := v.should(); should != "" {
		s += ", " + should
	}
	if e.Limit != nil && v.ahead() == 0 && (e.Expected == nil || v.bare(*e.Expected) != v.bare(*e.Limit)) && v.Projected == 0 {
		s += ", limit " + v.bare(*e.Limit)
	}
	return s
}

// should is what the value should be and how far off it is.
func (v view) should() string {
	x := v.Evidence.Expected
	switch {
	case x == nil:
		return ""
	case !atMost[v.Cause]:
		return "should be " + v.bare(*x) + v.missed(*x)
	case v.Evidence.Value > *x:
		return "should be at most " + v.bare(*x) + v.missed(*x)
	}
	return "should be at most " + v.bare(*x)
}

// atMost are the causes of water that may stand at any height under what is
// expected: being told of a rise, nobody asks for more.
var atMost = map[aquarium.Cause]bool{aquarium.TopOffRunaway: true, aquarium.DrainOverflow: true, aquarium.ReservoirOverfull: true}

// labels say what is read where the unit alone does not.
var labels = map[aquarium.Unit]string{"mm": "level", "l/h": "flow", "mg/l": "CO2 about", "ppm": "CO2 in the air", "l": "stored"}

func (v view) label() string {
	if v.Cause == aquarium.PHProbeDrift {
		return "by night"
	}
	return labels[v.Evidence.Unit]
}

// depthOf reports whether the level counts from a bottom, so that it has no sign.
func (v view) depthOf() bool {
	return v.Cause == aquarium.DrainOverflow || v.Cause == aquarium.DrainPumpFailed
}

// bare is a number in the evidence's unit, without it.
func (v view) bare(x float64) string {
	n := Number(x, v.Evidence.Unit)
	if v.depthOf() {
		n = strings.TrimPrefix(n, "+")
	}
	return n
}

// missed is how far the value lies from what it should be; a flow's share says
// more than its litres. Nothing where they read the same.
func (v view) missed(expected float64) string {
	e, side := v.Evidence, "over"
	d := e.Value - expected
	if s, ok := styles[e.Unit]; ok && s.decimals == 0 { // so that the numbers told add up
		d = round(e.Value, s.step) - round(expected, s.step)
	}
	if d < 0 {
		side, d = "under", -d
	}
	much := apart(d, e.Unit)
	if e.Unit == "l/h" {
		if expected <= 0 || Number(e.Value, e.Unit) == "0" {
			return ""
		}
		much = written(100*d/expected, "%")
	}
	if strings.Trim(Number(d, e.Unit), "+0.") == "" {
		return ""
	}
	return ", " + much + " " + side + " it"
}

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
		return "harm at any moment if it goes on"
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

// written is Value where there is room for more than a telephone's alphabet. A
// flow under 100 l/h is no filter's but a leak's or a pump's, and is told finer.
func written(x float64, u aquarium.Unit) string {
	if u == "l/h" && math.Abs(x) < 100 {
		return fine(x) + " l/h"
	}
	if w, ok := signs[u]; ok {
		return Number(x, u) + " " + w
	}
	return Value(x, u)
}

var signs = map[aquarium.Unit]string{"Cel": "°C", "K/h": "°C an hour", "mm/h": "mm an hour", "uS/cm": "µS/cm"}

// fine is a small flow with two digits.
func fine(x float64) string {
	if math.Abs(x) < 0.05 || math.IsNaN(x) {
		return "0"
	}
	return strconv.FormatFloat(x, 'f', max(0, 1-int(math.Floor(math.Log10(math.Abs(x))))), 64)
}

// apart is a difference: without sign, and of pH without its name.
func apart(d float64, u aquarium.Unit) string {
	d = math.Abs(d)
	if u == "pH" {
		return Number(d, u)
	}
	return strings.TrimPrefix(written(d, u), "+")
}
