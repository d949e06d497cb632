package column

import (
	"errors"
	"fmt"
)

// Mode is how hard a column is pressed.
type Mode uint8

const (
	// Fast packs frames of 128 readings in whole bits: for readings in memory.
	Fast Mode = iota
	// Small chooses a predictor and codes what it misses by entropy: for
	// blocks that are sealed once and read for years.
	Small
)

// Max is how many readings or rows a column has at most: more than 12 hours at
// one a millisecond. Decoding more is refused, so that damaged bytes cannot ask
// for more memory; appending more panics.
const Max = 1 << 26

// ErrDamaged is what decoding returns, wrapped with the place, for bytes that
// are no column of that kind and length.
var ErrDamaged = errors.New("damaged column")

func damaged(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrDamaged, fmt.Sprintf(format, args...))
}

func checkLen(n int) error {
	if n < 0 || n > Max {
		return damaged("%d readings, want 0 to %d", n, Max)
	}
	return nil
}

// checkFront is checkLen where only the first m are asked for.
func checkFront(n, m int) error {
	if m < 0 || m > n {
		return damaged("the first %d of %d readings", m, n)
	}
	return checkLen(n)
}

func mustFit(n int) {
	if n > Max {
		panic(fmt.Sprintf("column of %d readings, want at most %d", n, Max))
	}
}
