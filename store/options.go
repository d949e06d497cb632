package store

import (
	"log/slog"
	"time"
)

// Options are the knobs of Open. The zero Options are good.
type Options struct {
	// Now is the clock that releases are held against; nil is time.Now.
	Now func() time.Time
	// Log gets damage and a filling disk; nil is silent.
	Log *slog.Logger
	// ReadOnly opens an existing file without changing a byte of it. Several
	// readers may have it, but none beside a writer.
	ReadOnly bool
	// Writer is stamped into the file: the program and its version. Empty
	// leaves the stamp that is there; a new file gets "lentic".
	Writer string
	// Reserve is how many bytes are kept in a file beside the database, to
	// be given up when the disk is full. 0 is 32 MiB, negative none.
	Reserve int64
}

const defaultReserve = 32 << 20

func (o Options) withDefaults() Options {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Reserve == 0 {
		o.Reserve = defaultReserve
	}
	return o
}
