package store

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"sync/atomic"
	"time"
	"unsafe"

	"github.com/prometheus/client_golang/prometheus"
	"go.etcd.io/bbolt"
)

// A read transaction keeps every page it could see from being used again, so a
// long one makes the file grow, and a file that must be mapped anew waits for
// it. What reads much therefore reads in steps.
const (
	// stepTime and stepBytes are when a step ends.
	stepTime  = 50 * time.Millisecond
	stepBytes = 4 << 20
	// LongestAllowed is what no read transaction should take.
	LongestAllowed = time.Second
)

// readTimes are how long read transactions took.
type readTimes struct {
	longest atomic.Int64 // ns
	seconds prometheus.Histogram
}

func newReadTimes() *readTimes {
	return &readTimes{seconds: prometheus.NewHistogram(prometheus.HistogramOpts{
		Name: "lentic_store_read_seconds", Help: "How long read transactions took: a long one makes the database grow.",
		Buckets: []float64{.0001, .001, .01, .05, .1, .25, .5, 1, 2.5},
	})}
}

func (r *readTimes) register(with prometheus.Registerer) error {
	if with == nil {
		return nil
	}
	longest := prometheus.NewGaugeFunc(prometheus.GaugeOpts{
		Name: "lentic_store_read_longest_seconds", Help: "The longest read transaction since the start.",
	}, func() float64 { return time.Duration(r.longest.Load()).Seconds() })
	for _, c := range []prometheus.Collector{r.seconds, longest} {
		if err := with.Register(c); err != nil {
			return fmt.Errorf("store: %w", err)
		}
	}
	return nil
}

func (r *readTimes) note(took time.Duration) {
	r.seconds.Observe(took.Seconds())
	for {
		most := r.longest.Load()
		if int64(took) <= most || r.longest.CompareAndSwap(most, int64(took)) {
			return
		}
	}
}

// LongestRead is how long the longest read transaction since Open took.
func (s *Store) LongestRead() time.Duration { return time.Duration(s.reads.longest.Load()) }

// reader begins a read transaction. end ends it, and may be called once.
func (s *Store) reader() (tx *bbolt.Tx, end func(), err error) {
	begun := time.Now()
	if tx, err = s.db.Begin(false); err != nil {
		return nil, nil, fmt.Errorf("%s: %w: %w", s.path, ErrClosed, err)
	}
	return tx, func() {
		_ = tx.Rollback() // of a read transaction: nothing to be lost
		s.reads.note(time.Since(begun))
	}, nil
}

// read runs fn in a read transaction. While one is open the file cannot be
// mapped anew, so it must be short and call nobody.
func (s *Store) read(fn func(tx *bbolt.Tx) error) error {
	return guard(s.path, nil, func() error {
		tx, end, err := s.reader()
		if err != nil {
			return err
		}
		defer end()
		return fn(tx)
	})
}

// source is a bucket, or a shelf of the ledger.
type source struct {
	bucket string
	shelf  string // empty: none
}

func (at source) String() string {
	if at.shelf != "" {
		return at.bucket + "/" + at.shelf
	}
	return at.bucket
}

// within is the bucket of that name in this one, which may be the root.
func (at source) within(name []byte) source {
	if at.bucket == "" {
		return source{bucket: string(name)}
	}
	return source{at.bucket, string(name)}
}

// holdsBuckets tells where buckets lie: in the root, and in the ledger its shelves.
// Of a shelf itself it says the same, so that its leaves are looked through too:
// the ledger is small.
func (at source) holdsBuckets() bool { return at.bucket == "" || at.bucket == string(ledgerBucket) }

func (at source) in(tx *bbolt.Tx) *bbolt.Bucket {
	b := tx.Bucket([]byte(at.bucket))
	if b == nil || at.shelf == "" {
		return b
	}
	return b.Bucket([]byte(at.shelf))
}

// walk gives fn the keys and values of a bucket in their order, in steps. fn
// runs inside a read transaction and must be short and keep nothing; after,
// where it is not nil, runs after each step, outside, told whether there is
// more. What is written
// meanwhile may or may not be seen; what stays as it is is seen once. It ends
// whatever the file holds, for keys must rise.
func (s *Store) walk(ctx context.Context, at source, from []byte, fn func(k, v []byte) error, after func(more bool) error) error {
	for done := false; !done; {
		err := s.read(func(tx *bbolt.Tx) (err error) {
			from, done, err = step(at.in(tx), from, fn)
			return err
		})
		if err == nil && after != nil {
			err = after(!done)
		}
		if err == nil {
			err = ctx.Err()
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// step gives fn what begins at from, until its time is over, and says where to
// go on.
func step(b *bbolt.Bucket, from []byte, fn func(k, v []byte) error) (next []byte, done bool, err error) {
	if b == nil {
		return nil, true, nil
	}
	until, size := time.Now().Add(stepTime), 0
	var last []byte
	c := b.Cursor()
	for k, v := c.Seek(from); k != nil; k, v = c.Next() {
		if size > stepBytes || time.Now().After(until) {
			return slices.Clone(k), false, nil
		}
		if last != nil && bytes.Compare(k, last) <= 0 {
			return nil, true, errDisorder
		}
		if err := fn(k, v); err != nil {
			return nil, true, err
		}
		last = append(last[:0], k...)
		size += len(k) + len(v)
	}
	return nil, true, nil
}

var errDisorder = fmt.Errorf("%w: keys out of order", ErrDamaged)

// offsetOf is where a value that a transaction gave lies in the file, 0 where it
// does not: one that is still to be written.
func offsetOf(tx *bbolt.Tx, v []byte) int64 {
	at := offsetIn(tx.DB(), v)
	if at < 0 || at >= tx.Size() {
		return 0
	}
	return at
}

// offsetIn is offsetOf for what a read transaction gave.
func offsetIn(db *bbolt.DB, v []byte) int64 {
	if len(v) == 0 {
		return 0
	}
	return int64(uintptr(unsafe.Pointer(&v[0])) - db.Info().Data)
}
