package daemon

import (
	"reflect"
	"sync"
	"sync/atomic"

	"lentic/collector/aquarium"
)

// Trial judges one site over recorded samples as they come, under the
// configuration as it is and, where there is one, under another besides, each on
// a goroutine of its own. It ends with End or Drop; one goroutine may use it.
type Trial struct {
	under []*judged // the first: as it is
	open  *batch
	free  chan *batch
	span  Span
	wg    sync.WaitGroup
}

// Span is from a site's first to its last sample.
type Span struct{ First, Last aquarium.Instant }

// judged is what was found under one configuration.
type judged struct {
	feed  chan *batch
	lines []Line
}

// batch is samples on their way to those who judge them.
type batch struct {
	samples []aquarium.Sample
	left    atomic.Int32 // who are still to read it
}

// batchSamples is how many samples go at once, and batches how many are on their
// way: 5 MB at the most.
const (
	batchSamples = 4096
	batches      = 16
)

// NewTrial begins to judge. other is the same site configured otherwise; nil: it
// is not.
func NewTrial(site aquarium.Site, other *aquarium.Site, journal []aquarium.Entry) *Trial {
	t := &Trial{free: make(chan *batch, batches)}
	for range batches {
		t.free <- &batch{samples: make([]aquarium.Sample, 0, batchSamples)}
	}
	t.judge(site, journal)
	if other != nil && !reflect.DeepEqual(site, *other) {
		t.judge(*other, journal)
	}
	t.open = <-t.free
	return t
}

func (t *Trial) judge(site aquarium.Site, journal []aquarium.Entry) {
	j := &judged{feed: make(chan *batch, batches)}
	t.under = append(t.under, j)
	t.wg.Go(func() {
		j.lines = Backtest(site, t.samples(j.feed), journal, 0, 0)
	})
}

// samples are those of a feed, until it is closed.
func (t *Trial) samples(feed chan *batch) func(yield func(aquarium.Sample) bool) {
	return func(yield func(aquarium.Sample) bool) {
		more := true
		for b := range feed {
			for i := 0; i < len(b.samples) && more; i++ {
				more = yield(b.samples[i])
			}
			if b.left.Add(-1) == 0 {
				t.free <- b
			}
		}
	}
}

// Give hands a sample over, in the order of time.
func (t *Trial) Give(s aquarium.Sample) {
	if t.span.First == 0 {
		t.span.First = s.At
	}
	t.span.Last = s.At
	t.open.samples = append(t.open.samples, s)
	if len(t.open.samples) == batchSamples {
		t.send()
		t.open = <-t.free
		t.open.samples = t.open.samples[:0]
	}
}

func (t *Trial) send() {
	t.open.left.Store(int32(len(t.under)))
	for _, j := range t.under {
		j.feed <- t.open
	}
}

// End says what was found under the configuration as it is and under the other,
// which is the same where it does not differ, and over which time.
func (t *Trial) End() (lines, other []Line, span Span) {
	t.send()
	t.Drop()
	return t.under[0].lines, t.under[len(t.under)-1].lines, t.span
}

// Drop ends it without asking what was found.
func (t *Trial) Drop() {
	for _, j := range t.under {
		close(j.feed)
	}
	t.wg.Wait()
}
