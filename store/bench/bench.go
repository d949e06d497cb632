package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"
)

// The year that is measured with.
const (
	tankCount = 50
	year      = 365 * 24 * time.Hour
)

// bench is one run.
type bench struct {
	ctx     context.Context
	dir     string
	scale   float64
	seed    uint64
	program string    // lentic itself
	root    string    // of the module above
	kept    string    // where the year is kept between runs; empty: nowhere
	end     time.Time // of the year
	table   table
	failed  error

	written *yearFile // once a row needed it
}

// row is one line of the table that is aimed at, or several that are measured
// together.
type row struct {
	name   string // for -rows
	title  string
	yearly bool // needs the written year
	need   func(*bench) need
	run    func(*bench) error
}

// need is what a row takes beside the written year.
type need struct {
	disk int64
	time time.Duration
}

func (b *bench) need(rows []row) need {
	var all need
	var yearly bool
	for _, r := range rows {
		n := r.need(b)
		all.disk = max(all.disk, n.disk) // each row cleans up after itself
		all.time += n.time
		yearly = yearly || r.yearly
	}
	if yearly {
		n := b.yearNeed()
		all.disk += n.disk
		all.time += n.time
	}
	return all
}

// days is the length of the year in this run, in whole days, at least two.
func (b *bench) days() int { return max(2, int(365*b.scale+0.5)) }

func (b *bench) period() string { return fmt.Sprintf("%d days of %d sensors", b.days(), tankCount*12) }

// short says how the year was shortened; empty: not at all.
func (b *bench) short() string {
	if d := b.days(); d < 365 {
		return fmt.Sprintf("%d of 365 days", d)
	}
	return ""
}

// readings is how many the year has.
func (b *bench) readings() int64 { return int64(b.days()) * 8640 * tankCount * 12 }

// begin is when the year begins, in Unix milliseconds.
func (b *bench) begin() int64 {
	return b.end.Add(-time.Duration(b.days()) * 24 * time.Hour).UnixMilli()
}

func (b *bench) runAll(rows []row) {
	for _, r := range rows {
		if b.ctx.Err() != nil {
			return
		}
		start := time.Now()
		fmt.Fprintf(os.Stderr, "%s ...", r.name)
		b.table.begin(r.title)
		err := r.run(b)
		fmt.Fprintf(os.Stderr, " %s\n", time.Since(start).Round(time.Millisecond))
		if err != nil {
			b.table.notRun(err.Error())
			b.failed = errors.Join(b.failed, fmt.Errorf("%s: %w", r.name, err))
		}
	}
}

// scratch gives fn a folder that is gone afterwards.
func (b *bench) scratch(fn func(dir string) error) error {
	dir, err := os.MkdirTemp(b.dir, "row-")
	if err != nil {
		return err
	}
	return errors.Join(fn(dir), os.RemoveAll(dir))
}

func fileSize(path string) int64 {
	info, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return info.Size()
}

// folderSize is the length of all files below dir.
func folderSize(dir string) (n int64) {
	filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			n += fileSize(path)
		}
		return nil
	})
	return n
}
