package main

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"time"

	"lentic/collector/aquarium"
)

// What is promised. A deadline is words about the tank in truth: at some tanks the noise of a
// sensor, or somebody's hands, let its readings come to them late or never, and each of those
// is listed with why. That they are few is promised of the whole card, and of each row of
// enough trials for one in twenty to be told from chance.
const (
	inTime         = 0.95
	inTimeOf       = 100
	rightlyNamed   = 0.95 // of the whole card; so many of a row in which nothing is wrong are told nothing
	falseAMonth    = 1.0
	highAYear      = 1.0
	alarmsAVisit   = 1.5
	projectionDays = 5.0
)

// report gathers what the jobs find.
type report struct {
	scenarios []scenario
	views     []view

	mu     sync.Mutex // guards all below
	trials map[string][]outcome
	lives  []life
}

func newReport(ss []scenario, vs []view) *report {
	return &report{scenarios: ss, views: vs, trials: map[string][]outcome{}}
}

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
	broken := r.printFaults(out)
	r.printMisses(out, o.verbose)
	if len(r.lives) > 0 {
		broken = append(broken, r.printHealthy(out, o.verbose)...)
	}
	if len(broken) > 0 {
		fmt.Fprintf(out, "\nNot kept of what is promised: %s.\n", strings.Join(broken, "; "))
	}
	return len(broken) == 0
}

// row sums trials up.
type row struct {
	due, inTime, late, never, early, right, wrong, blind, notDue, again int
	delays                                                              []time.Duration // from the deadline on
	names                                                               map[aquarium.Cause]int
	projected                                                           []projection
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
		r.projected, r.again = append(r.projected, o.projected...), r.again+o.again
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
