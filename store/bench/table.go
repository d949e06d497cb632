package main

import (
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"text/tabwriter"
)

// line is one comparison.
type line struct {
	measure string
	lentic  string
	peer    string
	ratio   float64 // NaN: none
	target  string
	holds   string // yes, no, or `not run` and why
}

// table is what was measured so far.
type table struct {
	lines []line
	title string
}

func (t *table) begin(title string) { t.title = title }

func (t *table) notRun(why string) {
	t.lines = append(t.lines, line{measure: t.title, ratio: math.NaN(), holds: "not run: " + strings.ReplaceAll(why, "\n", "; ")})
}

// amount is a measured value and how it is written.
type amount struct {
	name  string // whose; empty for lentic's
	value float64
	text  string
}

// is compares with a peer. The target is that the ratio is at most (at least,
// where more) the limit; short, where set, says why the answer does not count.
func (t *table) is(measure string, lentic, peer amount, c check) {
	r := lentic.value / peer.value
	t.add(measure, lentic, strings.TrimSpace(peer.name+" "+peer.text), r, c.text("x"), c.verdict(r))
}

// stays compares with a fixed limit.
func (t *table) stays(measure string, lentic amount, c check) {
	t.add(measure, lentic, "", math.NaN(), c.text(""), c.verdict(lentic.value))
}

func (t *table) add(measure string, lentic amount, peer string, ratio float64, target, holds string) {
	if measure != "" {
		measure = ", " + measure
	}
	t.lines = append(t.lines, line{t.title + measure, lentic.text, peer, ratio, target, holds})
}

// check is a target.
type check struct {
	limit float64
	more  bool   // the limit is the least, not the most
	unit  string // of a fixed limit
	short string // why the answer does not count
	none  bool   // there is no target: for comparison only
}

func atMost(limit float64) check  { return check{limit: limit} }
func atLeast(limit float64) check { return check{limit: limit, more: true} }

var noTarget = check{none: true}

func (c check) in(unit string) check      { c.unit = unit; return c }
func (c check) unless(short string) check { c.short = short; return c }

func (c check) text(suffix string) string {
	sign := "<="
	if c.more {
		sign = ">="
	}
	switch {
	case c.none:
		return ""
	case c.unit != "":
		return fmt.Sprintf("%s %g %s", sign, c.limit, c.unit)
	}
	return fmt.Sprintf("%s %g%s", sign, c.limit, suffix)
}

func (c check) verdict(got float64) string {
	switch {
	case c.short != "":
		return "not run: " + c.short
	case c.none:
		return ""
	case c.more && got >= c.limit, !c.more && got <= c.limit:
		return "yes"
	}
	return "no"
}

func ratioText(r float64) string {
	switch {
	case math.IsNaN(r):
		return ""
	case r >= 100:
		return fmt.Sprintf("%.0f", r)
	case r >= 0.1:
		return fmt.Sprintf("%.3f", r)
	}
	return fmt.Sprintf("%.3g", r)
}

func (l line) fields() []string {
	return []string{l.measure, l.lentic, l.peer, ratioText(l.ratio), l.target, l.holds}
}

var columns = []string{"measure", "lentic", "peer", "ratio", "target", "holds"}

func (t *table) print(out io.Writer) {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, strings.Join(columns, "\t"))
	for _, l := range t.lines {
		fmt.Fprintln(w, strings.Join(l.fields(), "\t"))
	}
	w.Flush()
}

func (t *table) write(path string) error {
	var s strings.Builder
	s.WriteString(strings.Join(columns, "\t") + "\n")
	for _, l := range t.lines {
		s.WriteString(strings.Join(l.fields(), "\t") + "\n")
	}
	return os.WriteFile(path, []byte(s.String()), 0o644)
}
