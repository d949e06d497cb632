package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"regexp"
	"runtime"
	"syscall"
	"time"
)

func main() {
	if len(os.Args) > 2 && os.Args[1] == childFlag {
		if err := child(os.Args[2], os.Args[3:]); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(3)
		}
		return
	}
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(3)
	}
}

func run(args []string) error {
	f := flag.NewFlagSet("bench", flag.ExitOnError)
	scale := f.Float64("scale", 1, "the year's length: 0.01 is 3.65 days")
	pick := f.String("rows", ".", "regular `expression` of the rows to run; -list names them")
	dir := f.String("dir", os.TempDir(), "`folder` for all files; those of the run are deleted at its end")
	tsv := f.String("tsv", "bench.tsv", "`file` for the table")
	lentic := f.String("lentic", "", "the `program` whose start is measured; empty: that row is not run")
	root := f.String("root", "../..", "`folder` of the module above, whose own benchmarks are run")
	keep := f.String("year", "", "`folder` where the written year is kept, and taken from if it is there: for a row at a time; empty: it is written anew")
	seed := f.Uint64("seed", 1, "of the readings")
	list := f.Bool("list", false, "name the rows and what they need, and run none")
	f.Parse(args)
	chosen, err := choose(*pick)
	if err != nil {
		return err
	}
	if *scale <= 0 || *scale > 1 {
		return fmt.Errorf("-scale %g: want more than 0 and at most 1", *scale)
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	b := &bench{ctx: ctx, scale: *scale, seed: *seed, program: *lentic, root: *root, kept: *keep}
	// The hour after the year must have been, for the program takes nothing
	// from the future.
	b.end = time.Now().Truncate(time.Hour).Add(-time.Hour)
	if b.written, err = b.takeYear(); err != nil {
		return fmt.Errorf("-year: %w", err)
	}
	need := b.need(chosen)
	fmt.Printf("%d rows over %s: about %s of disk in %s, and about %s\n",
		len(chosen), b.period(), bytesText(need.disk), *dir, need.time.Round(time.Second))
	if *list {
		for _, r := range chosen {
			n := r.need(b)
			fmt.Printf("  %-14s %8s %8s  %s\n", r.name, bytesText(n.disk), n.time.Round(time.Second), r.title)
		}
		return nil
	}
	if err := enough(*dir, need.disk); err != nil {
		return err
	}
	if b.dir, err = os.MkdirTemp(*dir, "lentic-bench-"); err != nil {
		return err
	}
	defer os.RemoveAll(b.dir)
	before := loadAverage()
	b.runAll(chosen)
	b.table.print(os.Stdout)
	fmt.Printf("Load of the machine before and after: %s, %s, on %d cores. What others do lengthens times that are work more than those that are waiting for the disk.\n",
		before, loadAverage(), runtime.NumCPU())
	return errors.Join(b.table.write(*tsv), ctx.Err(), b.failed)
}

func choose(pattern string) ([]row, error) {
	re, err := regexp.Compile(pattern)
	if err != nil {
		return nil, fmt.Errorf("-rows: %w", err)
	}
	var some []row
	for _, r := range rows {
		if re.MatchString(r.name) {
			some = append(some, r)
		}
	}
	if len(some) == 0 {
		return nil, fmt.Errorf("-rows %s: no such row; -list names them", pattern)
	}
	return some, nil
}

// enough refuses where the disk might become full.
func enough(dir string, need int64) error {
	var s syscall.Statfs_t
	if err := syscall.Statfs(dir, &s); err != nil {
		return fmt.Errorf("-dir %s: %w", dir, err)
	}
	free := int64(s.Bavail) * s.Bsize
	if want := need + need/4 + 1<<30; free < want {
		return fmt.Errorf("%s has %s free and %s are wanted: give another -dir or a smaller -scale", filepath.Clean(dir), bytesText(free), bytesText(want))
	}
	return nil
}
