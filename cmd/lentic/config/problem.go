package config

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Problem is one mistake or warning and its place. Line and Column count from
// one; zero means the file as a whole.
type Problem struct {
	File         string
	Line, Column int
	Text         string // what is wrong and what is expected
}

func (p Problem) String() string {
	if p.Line == 0 {
		return p.File + ": " + p.Text
	}
	return fmt.Sprintf("%s:%d:%d: %s", p.File, p.Line, p.Column, p.Text)
}

// Problems are in the order of the file. As an error they are one line each.
type Problems []Problem

func (ps Problems) Error() string {
	lines := make([]string, len(ps))
	for i, p := range ps {
		lines[i] = p.String()
	}
	return strings.Join(lines, "\n")
}

// Err is ps as an error, nil when there is none.
func (ps Problems) Err() error {
	if len(ps) == 0 {
		return nil
	}
	return ps
}

func (ps Problems) sorted() Problems {
	slices.SortStableFunc(ps, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return slices.Compact(ps)
}

func quote(s string) string { return strconv.Quote(s) }
