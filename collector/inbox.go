package collector

import (
	"sync"

	paho "github.com/eclipse/paho.mqtt.golang"
	"github.com/eclipse/paho.mqtt.golang/packets"

	"lentic/collector/aquarium"
)

// arrived is a message and when it came.
type arrived struct {
	paho.Message
	at aquarium.Instant
}

// inbox holds what the library has handed over and nobody has taken yet. It is
// wide, because a handler that waits holds the whole connection up; when it is
// full the handler does wait, for the memory is not endless.
type inbox struct {
	mu     sync.Mutex // guards what follows
	change *sync.Cond
	items  []arrived
	bytes  int
	closed bool
}

func newInbox() *inbox {
	i := &inbox{}
	i.change = sync.NewCond(&i.mu)
	return i
}

func (i *inbox) put(a arrived) {
	i.mu.Lock()
	defer i.mu.Unlock()
	for !i.closed && (len(i.items) >= inboxMessages || i.bytes >= inboxBytes) {
		i.change.Wait()
	}
	if i.closed {
		return // unacknowledged, and so sent again
	}
	i.items = append(i.items, a)
	i.bytes += len(a.Payload())
	i.change.Broadcast()
}

// take waits for the next; false when the inbox was closed.
func (i *inbox) take() (arrived, bool) {
	i.mu.Lock()
	defer i.mu.Unlock()
	for !i.closed && len(i.items) == 0 {
		i.change.Wait()
	}
	if i.closed {
		return arrived{}, false
	}
	a := i.items[0]
	i.items[0] = arrived{}
	i.items = i.items[1:]
	i.bytes -= len(a.Payload())
	i.change.Broadcast()
	return a, true
}

// clear lets go of what is inside: unacknowledged, and so sent again.
func (i *inbox) clear() {
	i.mu.Lock()
	defer i.mu.Unlock()
	i.items, i.bytes = nil, 0
	i.change.Broadcast()
}

func (i *inbox) close() {
	i.mu.Lock()
	defer i.mu.Unlock()
	i.closed = true
	i.items = nil
	i.change.Broadcast()
}

// noStore keeps nothing.
type noStore struct{}

func (noStore) Open()                             {}
func (noStore) Put(string, packets.ControlPacket) {}
func (noStore) Get(string) packets.ControlPacket  { return nil }
func (noStore) All() []string                     { return nil }
func (noStore) Del(string)                        {}
func (noStore) Close()                            {}
func (noStore) Reset()                            {}
