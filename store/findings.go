package store

import (
	"errors"
	"fmt"
	"strings"
)

// Findings are what a check read, and what it found.
type Findings struct {
	// Damage is what is damaged, at most mostFound places; Damaged counts
	// all.
	Damage  []*Damage
	Damaged int
	// PutAside are readings that were damaged once and have been put aside
	// since: what is left of the file does not suffer from them.
	PutAside []*Damage

	Blocks    int   // of readings
	Readings  int64 // in them
	Sums      int   // values of sums
	Records   int   // of the log and whatever else is kept
	Documents int
	Bytes     int64 // of keys and values

	sum digest // of all keys and values that were read
}

// mostFound bounds what is listed: a ruined file would fill the screen.
const mostFound = 1000

func (f *Findings) add(d *Damage) {
	f.Damaged++
	if len(f.Damage) < mostFound {
		f.Damage = append(f.Damage, d)
	}
}

func (f *Findings) putAside(d *Damage) {
	if len(f.PutAside) < mostFound {
		f.PutAside = append(f.PutAside, d)
	}
}

// Err is what is damaged as one error, an ErrDamaged, or nil.
func (f Findings) Err() error {
	var errs []error
	for _, d := range f.Damage {
		errs = append(errs, d)
	}
	if more := f.Damaged - len(f.Damage); more > 0 {
		errs = append(errs, fmt.Errorf("%w in %d more places", ErrDamaged, more))
	}
	return errors.Join(errs...)
}

// Read says in words what was read.
func (f Findings) Read() string {
	return fmt.Sprintf("%s blocks with %s readings, %s values of sums, %s records, %s documents",
		number(int64(f.Blocks)), number(f.Readings), number(int64(f.Sums)), number(int64(f.Records)), number(int64(f.Documents)))
}

// number is n with its thousands apart.
func number(n int64) string {
	s := fmt.Sprint(n)
	var parts []string
	for len(s) > 3 {
		parts = append([]string{s[len(s)-3:]}, parts...)
		s = s[:len(s)-3]
	}
	return strings.Join(append([]string{s}, parts...), ",")
}
