package main

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"text/tabwriter"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/sim"
)

// printHealthy writes how healthy tanks lived, and says what of the promised is broken.
func (r *report) printHealthy(out io.Writer, every bool) (broken []string) {
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
	for _, x := range []struct {
		what          string
		got, promised float64
	}{{"false alarms a month", float64(len(lines)) / months, falseAMonth}, {"of high priority a year", 12 * float64(high) / months, highAYear}, {"alarms per undeclared visit", each, alarmsAVisit}} {
		if x.got > x.promised {
			broken = append(broken, fmt.Sprintf("%s %.2f (%g)", x.what, x.got, x.promised))
		}
	}
	return broken
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}
