package collector

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync/atomic"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"lentic/collector/aquarium"
	"lentic/collector/wire"
)

// Sink is where batches go. Commit returns nil only when all of the batch is
// on disk. ErrFull makes the Intake wait for room; any other error is final: it
// stops, and acknowledges nothing of that batch or after it.
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
	// OnFull hears from Run that the Sink has no room, and later that it has
	// again. In between nothing is taken: whoever listens for messages closes
	// its connections, and their senders keep what was not acknowledged. Nil:
	// nobody wants to know.
	OnFull func(full bool)
	// MaxBatch is the number of things (readings, refusals ...) at which a
	// batch is full; 0 means DefaultBatch. One message is never split.
	MaxBatch int
	// Queue is the number of things that may wait for the disk before Offer
	// waits too; 0 means DefaultQueue.
	Queue int
}

// Intake decodes, groups, commits and acknowledges. Offer, SetRegistry and
// Stats may be called by many at once, Run once.
type Intake struct {
	opt      Options
	registry atomic.Pointer[wire.Registry]
	queue    *queue
	stamps   stamps
	tally    *tally
}

// New builds an Intake. Nothing moves before Run; what is offered earlier
// waits in the queue.
func New(o Options) *Intake {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.OnFull == nil {
		o.OnFull = func(bool) {}
	}
	if o.MaxBatch == 0 {
		o.MaxBatch = DefaultBatch
	}
	if o.Queue == 0 {
		o.Queue = DefaultQueue
	}
	i := &Intake{opt: o, queue: newQueue(o.Queue), tally: newTally(o.Log)}
	i.registry.Store(o.Registry)
	i.tally.register(o.Metrics, func() float64 { return float64(i.queue.waiting()) })
	return i
}

// SetRegistry puts a new configuration's lookup in place of the old, which
// hands on the gateways it has seen. Messages offered from now on go by it.
func (i *Intake) SetRegistry(r *wire.Registry) {
	r.Inherit(i.registry.Swap(r))
}

// Registry is the lookup that messages go by now.
func (i *Intake) Registry() *wire.Registry { return i.registry.Load() }

// Offer hands over one message. It waits while the queue is full, and returns
// once the message has a place in it; then done (which may be nil) is called
// once everything in the message is on disk, in the order offered by one
// caller, from the goroutine of Run. If ctx ends first, the Intake has ended or
// the Sink is full, the message is not taken and done is never called: its
// sender will send it again. The same goes for what was taken and then met a
// full Sink.
//
// A message without a time of arrival is given the present.
//
// The decoding is done here and not by the committer: while that waits for the
// disk there is time for it.
func (i *Intake) Offer(ctx context.Context, m wire.Message, done func()) {
	if m.Arrived == 0 {
		m.Arrived = aquarium.At(i.opt.Now())
	}
	i.tally.heard.Store(int64(m.Arrived))
	r := i.registry.Load()
	found := r.Decode(m)
	if found.Arrival {
		if at := i.stamps.next(m.Topic, m.Arrived); at != m.Arrived {
			m.Arrived = at
			found = r.Decode(m)
		}
	}
	i.queue.put(ctx, newItem(found, done))
}

// Run commits what is offered, as soon as the disk is free, until ctx ends;
// then it takes no more, commits and acknowledges what it has, and returns nil.
// The first error of the Sink ends it at once and is returned; nothing is
// acknowledged after it.
func (i *Intake) Run(ctx context.Context) error {
	defer i.queue.close()
	var items []item
	for {
		select {
		case <-ctx.Done():
			return i.drain(ctx)
		case <-i.queue.more:
		}
		if items = i.queue.take(items, i.opt.MaxBatch); len(items) == 0 {
			continue
		}
		if err := i.commit(ctx, items); err != nil {
			return err
		}
	}
}

// drain commits what is left when no more is taken; ctx has ended.
func (i *Intake) drain(ctx context.Context) error {
	i.queue.close()
	var items []item
	for {
		if items = i.queue.take(items, i.opt.MaxBatch); len(items) == 0 {
			return nil
		}
		if err := i.commit(ctx, items); err != nil {
			return err
		}
	}
}

// commit brings one batch to the disk and answers for it. The batch that is
// under way when the program is told to stop is finished like any other.
func (i *Intake) commit(ctx context.Context, items []item) error {
	if b := gather(items); b.Len() > 0 {
		err := i.write(ctx, b, len(items))
		if errors.Is(err, ErrFull) {
			return i.await(ctx, items)
		}
		if err != nil {
			return err
		}
	}
	for k := range items {
		if items[k].done != nil {
			items[k].done()
		}
	}
	clear(items) // payloads and closures are not held until the next batch
	return nil
}

// write has the Sink commit what n messages hold.
func (i *Intake) write(ctx context.Context, b aquarium.Batch, n int) error {
	began := i.opt.Now()
	b.Arrived = aquarium.At(began)
	if err := i.opt.Sink.Commit(context.WithoutCancel(ctx), b); err != nil {
		return fmt.Errorf("commit %d messages with %d readings: %w", n, len(b.Readings), err)
	}
	ended := i.opt.Now()
	i.tally.committed(&b, n, aquarium.At(ended), ended.Sub(began))
	return nil
}

func gather(items []item) aquarium.Batch {
	var b aquarium.Batch
	n := 0
	for k := range items {
		n += len(items[k].found.Readings)
	}
	b.Readings = make([]aquarium.Reading, 0, n)
	for k := range items {
		d := &items[k].found
		b.Readings = append(b.Readings, d.Readings...)
		b.Aside = append(b.Aside, d.Aside...)
		b.Unclaimed = append(b.Unclaimed, d.Unclaimed...)
		b.Refused = append(b.Refused, d.Refused...)
	}
	return b
}

// Stats is the count so far.
func (i *Intake) Stats() Stats {
	s := i.tally.stats()
	s.Queued = i.queue.waiting()
	return s
}
