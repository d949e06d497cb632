package collector

import (
	"context"
	"slices"
	"sync"

	"lentic/collector/wire"
)

// item is one message on its way to the disk.
type item struct {
	found  wire.Decoded
	done   func()
	weight int // what it takes of the queue
}

// repeated reports whether the item's sender, told of no receipt, will send it
// again.
func (i item) repeated() bool { return i.done != nil }

// thing is the bytes that count as one more thing to write where a message is
// kept whole: a page of the disk is a few of them.
const thing = 512

// newItem weighs what was found; a message that holds nothing must be answered
// all the same.
func newItem(found wire.Decoded, done func()) item {
	w := found.Len()
	for k := range found.Unclaimed {
		w += len(found.Unclaimed[k].Payload) / thing
	}
	return item{found, done, max(1, w)}
}

// queue holds what waits for the disk, in the order it came. Its bound is in
// things to write, so that large packs cannot fill the memory.
type queue struct {
	limit int
	more  chan struct{} // holds one token while items may be there
	ended chan struct{} // closed with the queue

	// mu guards what follows.
	mu     sync.Mutex
	items  []item
	weight int
	room   chan struct{} // closed, and made anew, when something was taken
	shut   bool          // takes nothing for now
	closed bool
}

func newQueue(limit int) *queue {
	return &queue{
		limit: limit,
		more:  make(chan struct{}, 1),
		ended: make(chan struct{}),
		room:  make(chan struct{}),
	}
}

// put appends the item, waiting for room while there is none. It is false when
// the queue is shut, or ctx or the queue ended first. One item larger than the
// whole queue is taken when the queue is empty.
func (q *queue) put(ctx context.Context, it item) bool {
	for {
		q.mu.Lock()
		if q.closed || q.shut {
			q.mu.Unlock()
			return false
		}
		if q.weight == 0 || q.weight+it.weight <= q.limit {
			q.items = append(q.items, it)
			q.weight += it.weight
			q.mu.Unlock()
			q.tell()
			return true
		}
		room := q.room
		q.mu.Unlock()
		select {
		case <-room:
		case <-ctx.Done():
			return false
		case <-q.ended:
			return false
		}
	}
}

// take removes items from the front, at least one where there is any, until
// they weigh most. into, which holds nothing any more, is used again.
func (q *queue) take(into []item, most int) []item {
	q.mu.Lock()
	defer q.mu.Unlock()
	into = into[:0]
	if cap(into) > most {
		into = nil // a flood's; it need not be held for ever
	}
	if q.weight <= most {
		into, q.items, q.weight = q.items, into, 0
	} else {
		into = q.front(into, most)
	}
	if len(into) > 0 {
		q.stir()
	}
	return into
}

// front moves the first of more items than can be taken. mu is held.
func (q *queue) front(into []item, most int) []item {
	n, weight := 0, 0
	for n < len(q.items) && (n == 0 || weight+q.items[n].weight <= most) {
		weight += q.items[n].weight
		n++
	}
	into = append(into, q.items[:n]...)
	clear(q.items[:n])
	q.items = q.items[n:]
	q.weight -= weight
	if len(q.items) > 0 {
		q.tell()
	}
	return into
}

// tell says that there is more.
func (q *queue) tell() {
	select {
	case q.more <- struct{}{}:
	default:
	}
}

// stir has whoever waits for room look again. The caller holds mu.
func (q *queue) stir() {
	close(q.room)
	q.room = make(chan struct{})
}

// refuse takes nothing while on, and lets go of what will be sent again.
func (q *queue) refuse(on bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.shut = on
	if !on {
		return
	}
	q.items = slices.DeleteFunc(q.items, item.repeated)
	q.weight = 0
	for k := range q.items {
		q.weight += q.items[k].weight
	}
	q.stir()
}

// close takes no more. What is inside can still be taken.
func (q *queue) close() {
	q.mu.Lock()
	defer q.mu.Unlock()
	if !q.closed {
		q.closed = true
		close(q.ended)
	}
}

// waiting is the weight of all that is inside.
func (q *queue) waiting() int {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.weight
}
