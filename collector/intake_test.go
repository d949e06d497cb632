package collector

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"lentic/collector/aquarium"
	"lentic/collector/wire"
)

var library = []aquarium.Site{{ID: "quillmere-library", Tanks: []aquarium.Tank{{
	ID:      "atrium",
	Sensors: []aquarium.Sensor{{ID: "ph", Quantity: aquarium.PH}, {ID: "valve", Quantity: aquarium.Switch}},
}}}}

const phTopic = "lentic/quillmere-library/atrium/ph"

// disk is a Sink that keeps what it is given, takes its time and can fail.
type disk struct {
	takes time.Duration
	fail  int // the commit that fails, counted from 1; 0: none

	mu      sync.Mutex // guards what follows
	batches []aquarium.Batch
}

var errDisk = errors.New("no space left")

func (d *disk) Commit(_ context.Context, b aquarium.Batch) error {
	if d.takes > 0 {
		time.Sleep(d.takes)
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.fail == len(d.batches)+1 {
		return errDisk
	}
	d.batches = append(d.batches, b)
	return nil
}

func (d *disk) values() (vs []float64) {
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, b := range d.batches {
		for _, r := range b.Readings {
			vs = append(vs, r.Value)
		}
	}
	return vs
}

// newIntake reads the bubble's clock, which begins in 2000, as 2031: before
// 2020 every time would be set aside.
func newIntake(d *disk, o Options) *Intake {
	if o.Now == nil {
		o.Now = func() time.Time { return time.Now().AddDate(31, 0, 0) }
	}
	o.Registry, o.Sink = wire.NewRegistry("", library), d
	return New(o)
}

func number(n int) wire.Message {
	return wire.Message{Topic: phTopic, Payload: fmt.Appendf(nil, "%d", n), Source: "test"}
}

// Done comes after the commit and in the order offered, and what came while the
// disk was busy goes in one batch.
func TestGroupCommit(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		d := &disk{takes: 5 * time.Millisecond}
		i := newIntake(d, Options{})
		ended := make(chan error)
		go func() { ended <- i.Run(ctx) }()
		var mu sync.Mutex // guards done
		var done []int
		answered := func() []int {
			mu.Lock()
			defer mu.Unlock()
			return slices.Clone(done)
		}
		offer := func(n int) {
			i.Offer(ctx, number(n), func() {
				if got := len(d.values()); got <= n {
					t.Errorf("message %d was answered with %d readings on disk", n, got)
				}
				mu.Lock()
				defer mu.Unlock()
				done = append(done, n)
			})
		}
		offer(0)
		synctest.Wait() // the first alone is with the disk
		for n := 1; n < 100; n++ {
			offer(n)
		}
		time.Sleep(9 * time.Millisecond)
		synctest.Wait()
		if n := len(answered()); n != 1 {
			t.Errorf("after 9 ms %d were answered, want 1", n)
		}
		time.Sleep(2 * time.Millisecond)
		synctest.Wait()
		if got := answered(); len(got) != 100 || !slices.IsSorted(got) {
			t.Errorf("answered %v, want 0 to 99 in order", got)
		}
		if n := i.Stats().Commits; n != 2 {
			t.Errorf("%d commits, want 2: the disk was free twice", n)
		}
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
}

func TestBatchesAreBounded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		d := &disk{}
		i := newIntake(d, Options{MaxBatch: 10})
		for n := range 25 {
			i.Offer(ctx, number(n), nil)
		}
		ended := make(chan error)
		go func() { ended <- i.Run(ctx) }()
		synctest.Wait()
		var sizes []int
		for _, b := range d.batches {
			sizes = append(sizes, len(b.Readings))
		}
		if want := []int{10, 10, 5}; !slices.Equal(sizes, want) {
			t.Errorf("batches of %v, want %v", sizes, want)
		}
		cancel()
		<-ended
	})
}

func TestNothingIsAnsweredAfterAFailure(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &disk{takes: time.Millisecond, fail: 2}
		i := newIntake(d, Options{MaxBatch: 1, Queue: 3})
		ended := make(chan error, 1)
		go func() { ended <- i.Run(t.Context()) }()
		answered := 0
		offered := make(chan struct{})
		go func() {
			defer close(offered)
			for n := range 10 { // more than the queue holds: some of these wait
				i.Offer(t.Context(), number(n), func() { answered++ })
			}
		}()
		err := <-ended
		<-offered // whoever waited has been let go
		if !errors.Is(err, errDisk) || !strings.Contains(err.Error(), "commit 1 messages with 1 readings") {
			t.Errorf("error %v, want it to wrap %v", err, errDisk)
		}
		if answered != 1 {
			t.Errorf("%d answered, want 1", answered)
		}
	})
}

func TestStopDrains(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		d := &disk{takes: time.Millisecond}
		i := newIntake(d, Options{MaxBatch: 4})
		answered := 0
		for n := range 10 {
			i.Offer(ctx, number(n), func() { answered++ })
		}
		cancel()
		if err := i.Run(ctx); err != nil {
			t.Error(err)
		}
		if got := len(d.values()); got != 10 || answered != 10 {
			t.Errorf("%d on disk, %d answered, want 10 and 10", got, answered)
		}
		i.Offer(t.Context(), number(11), func() { t.Error("answered after the end") })
	})
}

// A full queue makes Offer wait, and ctx lets it go.
func TestPressureGoesBackwards(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		i := newIntake(&disk{}, Options{Queue: 5})
		for n := range 5 {
			i.Offer(t.Context(), number(n), nil)
		}
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		began := time.Now()
		i.Offer(ctx, number(5), func() { t.Error("answered without a disk") })
		if waited := time.Since(began); waited != time.Second {
			t.Errorf("Offer waited %v, want 1s", waited)
		}
		if q := i.Stats().Queued; q != 5 {
			t.Errorf("%d queued, want 5", q)
		}
	})
}

// Everything is answered: what is refused, set aside, unclaimed, or holds
// nothing at all.
func TestEverythingIsAnswered(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		d := &disk{}
		metrics := prometheus.NewRegistry()
		i := newIntake(d, Options{Metrics: metrics})
		answered := 0
		for _, m := range []wire.Message{
			{Topic: phTopic, Payload: []byte("6.58"), Source: "a"},
			{Topic: phTopic, Payload: []byte("NaN"), Source: "a"},
			{Topic: phTopic, Payload: []byte("NaN"), Source: "a"},
			{Topic: phTopic, Payload: []byte("inf"), Source: "b"},
			{Topic: phTopic, Payload: []byte(`[{"v":6.5,"t":1000}]`), Source: "a"},
			{Topic: phTopic, Payload: []byte(`[{"bn":"x"}]`), Source: "a"},
			{Topic: "lentic/quillmere-library/atrium/orp", Payload: []byte("1"), Source: "a"},
		} {
			i.Offer(ctx, m, func() { answered++ })
		}
		cancel()
		if err := i.Run(ctx); err != nil {
			t.Fatal(err)
		}
		s := i.Stats()
		if answered != 7 || s.Messages != 7 {
			t.Errorf("%d answered, %d counted, want 7", answered, s.Messages)
		}
		if s.Readings != 2 || s.Aside != 1 || s.Unclaimed != 1 || s.Refused[aquarium.ReasonValue] != 3 { // one reading is the clock's
			t.Errorf("stats %+v", s)
		}
		if n := s.Sources[Refuser{"a", aquarium.ReasonValue}]; n != 2 {
			t.Errorf("refused from a: %d, want 2", n)
		}
		families, err := metrics.Gather()
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]float64{}
		for _, f := range families {
			for _, m := range f.GetMetric() {
				got[f.GetName()] += m.GetCounter().GetValue()
			}
		}
		if got["lentic_intake_messages_total"] != 7 || got["lentic_intake_refused_total"] != 3 {
			t.Errorf("metrics %v", got)
		}
	})
}

// Two numbers of one sensor in the same millisecond are two readings, in the
// order they came.
func TestSameMillisecond(t *testing.T) {
	d := &disk{}
	at := time.Date(2031, 3, 2, 2, 14, 30, 0, time.UTC)
	i := newIntake(d, Options{Now: func() time.Time { return at }})
	ctx, cancel := context.WithCancel(t.Context())
	for n := range 3 {
		i.Offer(ctx, number(n), nil)
	}
	cancel()
	if err := i.Run(ctx); err != nil {
		t.Fatal(err)
	}
	for n, r := range d.batches[0].Readings {
		if want := aquarium.At(at) + aquarium.Instant(n); r.At != want || r.Value != float64(n) {
			t.Errorf("reading %d: value %v at %v, want %d at %v", n, r.Value, r.At, n, want)
		}
	}
}

func TestNewRegistryCounts(t *testing.T) {
	d := &disk{}
	i := newIntake(d, Options{})
	ctx, cancel := context.WithCancel(t.Context())
	m := wire.Message{Topic: "lentic/quillmere-library/atrium/water", Payload: []byte("24.5")}
	i.Offer(ctx, m, nil)
	more := library[0]
	more.Tanks = []aquarium.Tank{{ID: "atrium", Sensors: []aquarium.Sensor{{ID: "water", Quantity: aquarium.Temperature}}}}
	i.SetRegistry(wire.NewRegistry("", []aquarium.Site{more}))
	i.Offer(ctx, m, nil)
	cancel()
	if err := i.Run(ctx); err != nil {
		t.Fatal(err)
	}
	if b := d.batches[0]; len(b.Unclaimed) != 1 || len(b.Readings) != 1 {
		t.Errorf("batch %+v, want one unclaimed and one reading", b)
	}
}
