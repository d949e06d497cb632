package collector

import (
	"context"
	"log/slog"
	"sync/atomic"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"lentic/collector/aquarium"
	"lentic/collector/wire"
)

// Sink is where batches go. Commit returns nil only when all of the batch is
// on disk. Any error is final: the Intake stops, and acknowledges nothing of
// that batch or after it.
type Sink interface {
	Commit(ctx context.Context, b aquarium.Batch) error
}

// What the zero Options mean.
const (
	DefaultBatch = 5000
	DefaultQueue = 20000
)

// Options of an Intake. Registry and Sink are required.
type Options struct {
	Registry *wire.Registry
	Sink     Sink
	Now      func() time.Time      // nil: time.Now
	Log      *slog.Logger          // nil: silent
	Metrics  prometheus.Registerer // nil: counted, not exposed
	// MaxBatch is the number of things (readings, refusals ...) at which a
	// batch is full; 0 means DefaultBatch. One message is never split.
	MaxBatch int
	// Queue is the number of things that may wait for the disk before Offer
	// waits too; 0 means DefaultQueue.
	Queue int
}

// Intake decodes, groups, commits and acknowledges. Offer and SetRegistry may
// be called by many at once, Run once.
type Intake struct {
	opt      Options
	registry atomic.Pointer[wire.Registry]
}

// New builds an Intake. Nothing moves before Run.
func New(o Options) *Intake { return &Intake{opt: o} }

// SetRegistry puts a new configuration's lookup in place of the old.
func (i *Intake) SetRegistry(r *wire.Registry) {}

// Offer hands over one message.
func (i *Intake) Offer(ctx context.Context, m wire.Message, done func()) {}

// Run commits until ctx ends.
func (i *Intake) Run(ctx context.Context) error { return nil }

// Stats counts what has come through.
type Stats struct {
	Messages, Readings, Aside, Unclaimed, Commits uint64

	Refused map[aquarium.Reason]uint64
	// Queued is what waits for the disk now.
	Queued int
	// Heard and Committed are when the last message came and the last
	// commit ended; 0: none yet.
	Heard, Committed aquarium.Instant
}

// Stats is the count so far.
func (i *Intake) Stats() Stats { return Stats{} }
