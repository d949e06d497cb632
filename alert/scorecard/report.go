package main

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"sync"
	"text/tabwriter"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/sim"
)

// What is promised.
const (
	falseAMonth    = 1.0
	highAYear      = 1.0
	alarmsAVisit   = 1.5
	projectionDays = 5.0
)

// report gathers what the jobs find.
type report struct {
	scenarios []scenario

	mu     sync.Mutex // guards all below
	trials map[string][]outcome
	lives  []life
}

func newReport(ss []scenario) *report { return &report{scenarios: ss, trials: map[string][]outcome{}} }

func (r *report) add(os []outcome) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, o := range os {
		r.trials[o.scenario] = append(r.trials[o.scenario], o)
	}
}

func (r *report) addHealthy(l life) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.lives = append(r.lives, l)
}

// print writes the card and reports whether everything promised was kept.
func (r *report) print(out io.Writer, o options) bool {
	kept := r.printFaults(out)
	r.printMisses(out, o.verbose)
	if len(r.lives) > 0 {
		kept = r.printHealthy(out, o.verbose) && kept
	}
	return kept
}

// row sums trials up.
type row struct {
	due, inTime, late, never, early, right, wrong, blind, notDue int
	delays                                                       []time.Duration // from the deadline on
	names                                                        map[aquarium.Cause]int
	projected                                                    []projection
}

func sum(os []outcome, of func(outcome) bool) row {
	r := row{names: map[aquarium.Cause]int{}}
	for _, o := range os {
		switch {
		case !of(o):
			continue
		case o.blind:
			r.blind++
			continue
		}
		for _, c := range o.names {
			r.names[c]++
		}
		r.projected = append(r.projected, o.projected...)
		if len(o.wrong) > 0 {
			r.wrong++
		}
		if o.due == 0 {
			r.notDue++
			continue
		}
		r.due++
		switch {
		case o.early:
			r.early++
		case o.raised == 0:
			r.never++
		case o.inTime():
			r.inTime++
		default:
			r.late++
		}
		if o.raised != 0 && !o.early {
			r.delays = append(r.delays, o.raised.Sub(o.due))
			if len(o.wrong) == 0 {
				r.right++
			}
		}
	}
	slices.Sort(r.delays)
	return r
}

func (r row) share(n int) string {
	if r.due == 0 {
		return "-"
	}
	return fmt.Sprintf("%.0f", 100*float64(n)/float64(r.due))
}

// caught is the share in time, with - where the view is blind.
func (r row) caught() string { return r.share(r.inTime) }

func all(outcome) bool { return true }

func (r *report) printFaults(out io.Writer) bool {
	kept := true
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "fault\tdue\tin time %\tmild\tmiddle\tstrong\t10s\t60s\t10s-\t60s-\tlate\tnever\tnamed right %\tmedian\tworst\tblind\tnot due\tother names")
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
		for _, v := range views() {
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
		cells = append(cells, fmt.Sprint(t.late), fmt.Sprint(t.never+t.early), right, median, worst, fmt.Sprint(t.blind), fmt.Sprint(t.notDue), counts(t.names))
		fmt.Fprintln(w, strings.Join(cells, "\t"))
		whole.due, whole.inTime, whole.right, whole.never = whole.due+t.due, whole.inTime+t.inTime, whole.right+t.right, whole.never+t.never+t.early
		whole.projected = append(whole.projected, t.projected...)
		kept = kept && t.inTime == t.due && t.wrong == 0
	}
	w.Flush()
	if whole.due > 0 {
		fmt.Fprintf(out, "\nIn time %.1f %% of %d; told under no other name %.1f %% of those told. 10s-, 60s-: without switches. Median and worst: from the deadline on.\n",
			100*float64(whole.inTime)/float64(whole.due), whole.due, 100*float64(whole.right)/float64(max(1, whole.due-whole.never)))
	}
	return r.printProjected(out, whole.projected) && kept
}

// printProjected tells how good projected days were, and reports whether those
// told when a fifth of the flow was gone are as promised.
func (r *report) printProjected(out io.Writer, ps []projection) bool {
	kept := true
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
			kept = abs(worst) <= projectionDays
		}
		fmt.Fprintln(out, ".")
	}
	return kept
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
			if !o.blind && (o.due != 0 && !o.inTime() || len(o.wrong) > 0) {
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

func (r *report) printHealthy(out io.Writer, every bool) bool {
	months, high, near, first, page := 0.0, 0, 0, 0, 0
	names, truths := map[aquarium.Cause]int{}, map[aquarium.Cause]int{}
	visits := map[sim.VisitKind]*visited{}
	var lines []string
	for _, l := range r.lives {
		months += l.months
		page += l.page
		for c, n := range l.truths {
			truths[c] += n
		}
		for k, v := range l.visits {
			if visits[k] == nil {
				visits[k] = &visited{}
			}
			visits[k].visits, visits[k].alarms, visits[k].known = visits[k].visits+v.visits, visits[k].alarms+v.alarms, visits[k].known+v.known
		}
		for _, t := range l.wolves {
			names[t.cause]++
			where := ""
			if t.priority == aquarium.High {
				high++
			}
			if t.declared {
				near++
				where = ", by a declared visit"
			}
			if t.new {
				first++
				where += ", in its first week"
			}
			lines = append(lines, fmt.Sprintf("  %s: %s %s%s", l.about, t.at.Time().Format(time.DateTime), t.words, where))
		}
	}
	fmt.Fprintf(out, "\nHealthy: %.0f tank-months, %.2f false alarms a month (promised: %g), %.2f of high priority a year (promised: %g); %d of %d by a declared visit, %d in a tank's first week; %d to the page only.\n",
		months, float64(len(lines))/months, falseAMonth, 12*float64(high)/months, highAYear, near, len(lines), first, page)
	fmt.Fprintf(out, "  false: %s\n  true of the tank: %s\n", orNone(counts(names)), orNone(counts(truths)))
	total := visited{}
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "undeclared\tvisits\talarms each\tknown as a visit")
	for _, k := range slices.Sorted(maps.Keys(visits)) {
		v := visits[k]
		total.visits, total.alarms = total.visits+v.visits, total.alarms+v.alarms
		fmt.Fprintf(w, "%s\t%d\t%.2f\t%d\n", k, v.visits, float64(v.alarms)/float64(max(1, v.visits)), v.known)
	}
	w.Flush()
	each := float64(total.alarms) / float64(max(1, total.visits))
	fmt.Fprintf(out, "Alarms per undeclared visit: %.2f (promised: %g)\n", each, alarmsAVisit)
	slices.Sort(lines)
	for i, l := range lines {
		if i == 10*examples && !every {
			fmt.Fprintf(out, "  ... and %d more (-v lists all)\n", len(lines)-i)
			break
		}
		fmt.Fprintln(out, l)
	}
	return float64(len(lines))/months <= falseAMonth && 12*float64(high)/months <= highAYear && each <= alarmsAVisit
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}
