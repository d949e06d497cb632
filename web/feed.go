package web

import (
	"errors"
	"sync"
	"time"

	"lentic/collector/aquarium"
)

// What a stream may fall behind before it is dropped: two whole commits of
// 5,000 readings and the room to breathe between them.
const maxPending = 12000

// errSlow: a subscriber did not keep up and was dropped.
var errSlow = errors.New("the stream fell too far behind")

// Feed hands what is new to everyone who is watching. Publishing never waits:
// a subscriber that does not keep up is dropped and has to ask again for what
// it missed. It may be used by many at once; what one caller publishes arrives
// in its order.
//
// A reading must be readable from the store before it is published: then a
// subscriber that joins first and reads the store second misses nothing.
type Feed struct {
	mu     sync.Mutex // guards everything below; never held while writing
	subs   map[*subscriber]bool
	closed bool
	newest aquarium.Instant // the latest sample published
	late   []belated        // oldest first
}

// belated is a sample published when the feed had long been past its time: it
// came out of a gateway's buffer. Who was away then cannot ask for it by its
// time, so it is kept for a while by when it came.
type belated struct {
	sample aquarium.Sample
	came   aquarium.Instant // the feed's newest time then
}

const (
	maxLate   = 20000
	lateAfter = time.Minute
)

// NewFeed makes a Feed without subscribers.
func NewFeed() *Feed { return &Feed{subs: map[*subscriber]bool{}} }

// item is one thing of the stream: a sample, or an alarm's transition.
type item struct {
	sample aquarium.Sample
	alarm  *aquarium.Alarm // nil: a sample
}

// Publish hands samples on, which must not be changed afterwards.
func (f *Feed) Publish(samples []aquarium.Sample) {
	items := make([]item, len(samples))
	for i, s := range samples {
		items[i].sample = s
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.keepLate(samples)
	f.publish(items)
}

func (f *Feed) keepLate(samples []aquarium.Sample) {
	for _, s := range samples {
		if s.At < f.newest.Add(-lateAfter) {
			f.late = append(f.late, belated{s, f.newest})
		}
		f.newest = max(f.newest, s.At)
	}
	if over := len(f.late) - maxLate; over > 0 {
		f.late = append(f.late[:0], f.late[over:]...)
	}
}

// PublishAlarm hands on an alarm as it stands after a transition.
func (f *Feed) PublishAlarm(a aquarium.Alarm) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.publish([]item{{alarm: &a}})
}

// publish offers items to every stream; the caller holds f.mu.
func (f *Feed) publish(items []item) {
	for s := range f.subs {
		s.offer(items)
		if s.err != nil {
			delete(f.subs, s)
		}
	}
}

// Close drops every subscriber and takes no more: lentic is stopping.
func (f *Feed) Close() {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.closed = true
	for s := range f.subs {
		s.end(errStopping)
	}
	clear(f.subs)
}

var errStopping = errors.New("lentic is stopping")

// subscribe joins the stream; want chooses the items. leave must be called.
// missed are the samples from before since that came after it, as far back as
// the feed remembers; since 0 asks for none.
func (f *Feed) subscribe(since aquarium.Instant, want func(item) bool) (s *subscriber, missed []aquarium.Sample) {
	s = &subscriber{feed: f, want: want, wake: make(chan struct{}, 1)}
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, b := range f.late {
		if since > 0 && b.sample.At < since && b.came >= since && want(item{sample: b.sample}) {
			missed = append(missed, b.sample)
		}
	}
	if f.closed {
		s.end(errStopping)
		return s, nil
	}
	f.subs[s] = true
	return s, missed
}

// subscriber is one stream. Its fields are guarded by the feed's mutex.
type subscriber struct {
	feed    *Feed
	want    func(item) bool
	pending []item
	err     error         // why it was dropped; nil: it was not
	wake    chan struct{} // holds one: there is something to take
}

func (s *subscriber) offer(items []item) {
	for _, it := range items {
		if s.want(it) {
			s.pending = append(s.pending, it)
		}
	}
	if len(s.pending) > maxPending {
		s.end(errSlow)
		return
	}
	if len(s.pending) > 0 {
		s.signal()
	}
}

func (s *subscriber) end(err error) {
	s.err, s.pending = err, nil
	s.signal()
}

func (s *subscriber) signal() {
	select {
	case s.wake <- struct{}{}:
	default:
	}
}

// take is what has come since the last call, in order, and why no more will.
func (s *subscriber) take() ([]item, error) {
	s.feed.mu.Lock()
	defer s.feed.mu.Unlock()
	items := s.pending
	s.pending = nil
	return items, s.err
}

func (s *subscriber) leave() {
	s.feed.mu.Lock()
	defer s.feed.mu.Unlock()
	delete(s.feed.subs, s)
}
