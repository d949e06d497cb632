package main

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"lentic/collector/aquarium"
)

// printFaults writes a row for each fault and says what of the promised is broken.
func (r *report) printFaults(out io.Writer) (broken []string) {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "fault\tdue\tin time %%\tmild\tmiddle\tstrong\t%s\tlate\tnever\tnamed right %%\tmedian\tworst\tblind\tnot due\tagain\tother names\n", strings.Join(r.columns(), "\t"))
	var whole row
	for _, s := range r.scenarios {
		os := r.trials[s.name]
		if len(os) == 0 {
			continue
		}
		t := sum(os, all)
		cells := []string{s.name, fmt.Sprint(t.due), t.caught()}
		for g := range s.grades {
			cells = append(cells, sum(os, func(o outcome) bool { return o.grade == g }).caught())
		}
		for _, v := range r.views {
			cells = append(cells, sum(os, func(o outcome) bool { return o.view == v }).caught())
		}
		median, worst := "-", "-"
		if n := len(t.delays); n > 0 {
			median, worst = short(t.delays[n/2]), short(t.delays[n-1])
		}
		told := t.due - t.never - t.early
		right := "-"
		if told > 0 {
			right = fmt.Sprintf("%.0f", 100*float64(t.right)/float64(told))
		}
		if len(s.causes) == 0 {
			t.notDue, right = 0, fmt.Sprintf("%.0f", 100*float64(len(os)-t.wrong)/float64(len(os)))
		}
		cells = append(cells, fmt.Sprint(t.late), fmt.Sprint(t.never+t.early), right, median, worst, fmt.Sprint(t.blind), fmt.Sprint(t.notDue), fmt.Sprint(t.again), counts(t.names))
		fmt.Fprintln(w, strings.Join(cells, "\t"))
		whole.due, whole.inTime, whole.right, whole.never = whole.due+t.due, whole.inTime+t.inTime, whole.right+t.right, whole.never+t.never+t.early
		whole.projected = append(whole.projected, t.projected...)
		if share := float64(t.inTime) / float64(max(1, t.due)); t.due >= inTimeOf && share < inTime {
			broken = append(broken, fmt.Sprintf("%s in time %.1f %% (%g)", s.name, 100*share, 100*inTime))
		}
		if still := 1 - float64(t.wrong)/float64(len(os)); len(s.causes) == 0 && len(os) >= inTimeOf && still < rightlyNamed {
			broken = append(broken, fmt.Sprintf("%s told under a name %.1f %% (%g)", s.name, 100*(1-still), 100*(1-rightlyNamed)))
		}
	}
	w.Flush()
	if whole.due > 0 {
		share, named := float64(whole.inTime)/float64(whole.due), float64(whole.right)/float64(max(1, whole.due-whole.never))
		fmt.Fprintf(out, "\nIn time %.1f %% of %d (promised: %g, and of each row of %d or more); told under no other name %.1f %% of those told (promised: %g). With a -: without switches. Median and worst: from the deadline on.\n",
			100*share, whole.due, 100*inTime, inTimeOf, 100*named, 100*rightlyNamed)
		if share < inTime {
			broken = append(broken, fmt.Sprintf("in time %.1f %% (%g)", 100*share, 100*inTime))
		}
		if named < rightlyNamed {
			broken = append(broken, fmt.Sprintf("under no other name %.1f %% (%g)", 100*named, 100*rightlyNamed))
		}
	}
	return append(broken, r.printProjected(out, whole.projected)...)
}

// printProjected tells how good projected days were, and says if those told when
// a fifth of the flow was gone are not as promised.
func (r *report) printProjected(out io.Writer, ps []projection) (broken []string) {
	for _, part := range []struct {
		when     string
		from, to float64
		promised bool
	}{{"with less than a fifth of the flow gone", 0, 0.2, false}, {"with a fifth gone", 0.2, 1, true}} {
		var off []float64
		for _, p := range ps {
			if p.gone >= part.from && p.gone < part.to {
				off = append(off, p.off)
			}
		}
		if len(off) == 0 {
			continue
		}
		slices.SortFunc(off, func(a, b float64) int { return cmp.Compare(abs(a), abs(b)) })
		worst := off[len(off)-1]
		fmt.Fprintf(out, "Projected day, told %s: %d, median %.1f days off, worst %+.1f", part.when, len(off), abs(off[len(off)/2]), worst)
		if part.promised {
			fmt.Fprintf(out, " (promised: %g)", projectionDays)
			if abs(worst) > projectionDays {
				broken = append(broken, fmt.Sprintf("a projected day %+.1f off (%g)", worst, projectionDays))
			}
		}
		fmt.Fprintln(out, ".")
	}
	return broken
}

// columns are the views in short.
func (r *report) columns() (cs []string) {
	for _, v := range r.views {
		c := seconds(v.every)
		if !v.switches {
			c += "-"
		}
		cs = append(cs, c)
	}
	return cs
}

func abs(x float64) float64 { return max(x, -x) }

// short is a duration of at most two figures that matter.
func short(d time.Duration) string {
	switch a := d.Abs(); {
	case a >= 2*day:
		return fmt.Sprintf("%.1fd", d.Hours()/24)
	case a >= hour:
		return fmt.Sprintf("%.1fh", d.Hours())
	case a >= minute:
		return fmt.Sprintf("%.0fm", d.Minutes())
	}
	return fmt.Sprintf("%.0fs", d.Seconds())
}

func counts(m map[aquarium.Cause]int) string {
	names := slices.SortedFunc(maps.Keys(m), func(a, b aquarium.Cause) int { return cmp.Or(cmp.Compare(m[b], m[a]), cmp.Compare(a, b)) })
	var s []string
	for _, c := range names {
		s = append(s, fmt.Sprintf("%s %d", c, m[c]))
	}
	return strings.Join(s, ", ")
}

// examples is how many misses of a row are shown unless all are asked for.
const examples = 3

func (r *report) printMisses(out io.Writer, every bool) {
	for _, s := range r.scenarios {
		var lines []string
		shown := examples
		if t := sum(r.trials[s.name], all); t.never == t.due {
			shown = 1 // one says it all
		}
		for _, o := range r.trials[s.name] {
			if !o.blind && (o.due != 0 && !o.inTime() || len(o.wrong) > 0 || o.again > 2) {
				lines = append(lines, o.line(s))
			}
		}
		slices.Sort(lines)
		if len(lines) == 0 {
			continue
		}
		fmt.Fprintln(out)
		for i, l := range lines {
			if i == shown && !every {
				fmt.Fprintf(out, "  ... and %d more of it (-v lists all)\n", len(lines)-i)
				break
			}
			fmt.Fprintln(out, "  "+l)
		}
	}
}
