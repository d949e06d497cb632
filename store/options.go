package store

import (
	"log/slog"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"lentic/collector/aquarium"
)

// Options are the knobs of Open. The zero Options are good.
type Options struct {
	// Now is the clock that releases are held against; nil is time.Now.
	Now func() time.Time
	// Log gets damage and a filling disk; nil is silent.
	Log *slog.Logger
	// Metrics shows how long read transactions take; nil: nobody asks.
	Metrics prometheus.Registerer
	// ReadOnly opens an existing file without changing a byte of it. Several
	// readers may have it, but none beside a writer.
	ReadOnly bool
	// Good tells which values of a sensor may count in the sums that charts
	// are drawn from; those that may not are counted apart. Nil, of either:
	// all may. It is asked when readings are sealed, and may be called by
	// any goroutine; what it gives is for one.
	Good func(aquarium.SensorKey) func(value float64, unit aquarium.Unit) bool
	// Keep is how long readings are kept as received; what remains of older
	// ones is their sums by the minute, for as long as KeepMinutes, and those
	// of ten minutes, hours and days for ever. 0 is 400 days and 3 years,
	// negative for ever.
	Keep, KeepMinutes time.Duration
	// Writer is stamped into the file: the program and its version. Empty
	// leaves the stamp that is there; a new file gets "lentic".
	Writer string
	// Reserve is how many bytes are kept in a file beside the database, to
	// be given up when the disk is full. 0 is 32 MiB, negative none.
	Reserve int64
}

const (
	defaultKeep        = 400 * 24 * time.Hour
	defaultKeepMinutes = 3 * 365 * 24 * time.Hour
)

const defaultReserve = 32 << 20

func (o Options) withDefaults() Options {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Keep == 0 {
		o.Keep = defaultKeep
	}
	if o.KeepMinutes == 0 {
		o.KeepMinutes = defaultKeepMinutes
	}
	if o.Reserve == 0 {
		o.Reserve = defaultReserve
	}
	return o
}
