package main

import (
	"flag"
	"fmt"
	"os"
	"runtime"
	"strings"
	"time"
)

// options is what the command line asks for.
type options struct {
	seeds   int
	offset  uint64
	months  int
	every   intervals
	steps   float64
	only    string
	all     bool // slow faults with every seed
	verbose bool
}

func main() {
	o := options{every: intervals{10 * time.Second, time.Minute}}
	quick := flag.Bool("quick", false, "two seeds and eight tank-months")
	flag.IntVar(&o.seeds, "seeds", 20, "seeds for each fault, grade, interval and view")
	flag.Uint64Var(&o.offset, "offset", 1000, "the first seed; detectors are tuned on those under 100")
	flag.IntVar(&o.months, "months", 100, "healthy tank-months; 0 leaves them out")
	flag.Var(&o.every, "every", "intervals between readings, parted by commas")
	flag.Float64Var(&o.steps, "steps", 0, "mm from one value of a level sensor to the next; 0: as usual")
	lived := flag.Int("lived", livedIn, "days that a tank has lived when its fault begins; the change of water comes on the 13th")
	flag.StringVar(&o.only, "only", "", "only faults with this, or one of several parted by commas, in their name; healthy tanks are left out then unless -months is given")
	flag.BoolVar(&o.all, "all", false, "every seed for faults that take weeks too: an hour; without it each fourth")
	flag.BoolVar(&o.verbose, "v", false, "list every miss, with what held it back, and every false alarm")
	flag.Parse()
	given := map[string]bool{}
	flag.Visit(func(f *flag.Flag) { given[f.Name] = true })
	if flag.NArg() > 0 || o.seeds < 0 || o.months < 0 || o.steps < 0 || *lived < 3 {
		fmt.Fprintf(os.Stderr, "scorecard: %q: want flags only, none of them negative, and three days of life\n", strings.Join(flag.Args(), " "))
		os.Exit(2)
	}
	if *quick && !given["seeds"] {
		o.seeds = 2
	}
	if *quick && !given["months"] {
		o.months = 8
	}
	if o.only != "" && !given["months"] {
		o.months = 0
	}
	split = midnight.Add(time.Duration(*lived) * day)
	began := time.Now()
	scenarios := chosen(o.only)
	r := newReport(scenarios, views(o.steps, o.every...))
	work(runtime.GOMAXPROCS(0), jobs(o, scenarios, r))
	kept := r.print(os.Stdout, o)
	fmt.Printf("\n%s on %d processors\n", time.Since(began).Round(time.Second), runtime.GOMAXPROCS(0))
	if !kept {
		os.Exit(1)
	}
}
