package collector

import (
	"sync"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// acks acknowledges messages from one place, in the order they become due: the
// library sends what it is told when it is told, and MQTT wants the order of
// arrival (MQTT-4.6.0-2). The committer is not held up by the network.
type acks struct {
	mu       sync.Mutex // guards what follows
	change   *sync.Cond
	queue    []paho.Message
	owed     int  // offered and not acknowledged
	forgiven bool // nothing more is owed for now
	closed   bool
}

func (a *acks) init() { a.change = sync.NewCond(&a.mu) }

// owe counts a message that will become due.
func (a *acks) owe() {
	a.mu.Lock()
	defer a.mu.Unlock()
	if !a.forgiven {
		a.owed++
	}
}

// due queues the acknowledgement of m. It never blocks.
func (a *acks) due(m paho.Message) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.queue = append(a.queue, m)
	a.change.Broadcast()
}

// run acknowledges until close. The acknowledgement of a message whose
// connection is gone goes nowhere: the broker sends the message again.
func (a *acks) run() {
	a.mu.Lock()
	defer a.mu.Unlock()
	for {
		for len(a.queue) == 0 && !a.closed {
			a.change.Wait()
		}
		if len(a.queue) == 0 {
			return
		}
		batch := a.queue
		a.queue = nil
		a.mu.Unlock()
		for _, m := range batch {
			m.Ack()
		}
		a.mu.Lock()
		a.owed -= len(batch)
		a.change.Broadcast()
	}
}

// drain waits until nothing is owed, limit at most.
func (a *acks) drain(limit time.Duration) {
	over := false
	timer := time.AfterFunc(limit, func() {
		a.mu.Lock()
		defer a.mu.Unlock()
		over = true
		a.change.Broadcast()
	})
	defer timer.Stop()
	a.mu.Lock()
	defer a.mu.Unlock()
	for a.owed > 0 && !over {
		a.change.Wait()
	}
}

// forgive counts nothing as owed while on: it will come again.
func (a *acks) forgive(on bool) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.forgiven, a.owed = on, len(a.queue)
	a.change.Broadcast()
}

func (a *acks) close() {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.closed = true
	a.change.Broadcast()
}
