// Package peer wraps what lentic's store is measured against, each used the way
// its own documentation says a careful user would: a plain file, bbolt, a time
// series database and SQLite. What a Commit returns without an error is on
// disk.
package peer

import "lentic/store/bench/tanks"

// Peer takes readings durably. It is for one goroutine.
type Peer interface {
	Name() string
	// Commit puts readings on disk: it returns after the last fdatasync.
	Commit(rs []tanks.Reading) error
	Close() error
}

// Loader takes many readings fast, durable or not.
type Loader interface {
	Load(rs []tanks.Reading) error
}

// Reader gives readings back.
type Reader interface {
	// Raw gives the readings of a series with from <= At < to in order.
	Raw(series int, from, to int64, fn func(at int64, v float64)) error
}

// Sum is one bucket of a chart.
type Sum struct {
	At            int64
	Count         int
	Min, Max, Sum float64
}
