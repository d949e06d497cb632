package broker

import "sync"

// session is what is remembered of a client beyond its connection: the QoS 2
// messages it has handed over and not yet released (MQTT 3.1.1, section 4.3.3).
// One of these that comes again is answered and not taken again. It is kept in
// memory: after a restart of lentic a message may be taken twice, which for a
// value with a time of its own changes nothing.
type session struct {
	conn *conn // the latest; guarded by the broker's mu

	mu    sync.Mutex // guards taken
	taken map[uint16]*handover
}

// handover is one QoS 2 message between PUBLISH and PUBREL.
type handover struct {
	stored  bool
	waiting []func() // acknowledgements of it, told when it is stored
}

func newSession() *session { return &session{taken: map[uint16]*handover{}} }

// take notes that the message is being handed over, with what tells its
// acknowledgement. It is nil where that has been done before: the
// acknowledgement is then told in its own time. Else it returns the function
// to call once the message is on disk.
func (s *session) take(id uint16, tell func()) (stored func()) {
	s.mu.Lock()
	h, again := s.taken[id]
	if again && h.stored {
		s.mu.Unlock()
		tell()
		return nil
	}
	if !again {
		h = &handover{}
		s.taken[id] = h
	}
	h.waiting = append(h.waiting, tell)
	s.mu.Unlock()
	if again {
		return nil
	}
	return func() {
		s.mu.Lock()
		h.stored = true
		tells := h.waiting
		h.waiting = nil
		s.mu.Unlock()
		for _, tell := range tells {
			tell()
		}
	}
}

// release forgets the message; false if it was not there.
func (s *session) release(id uint16) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	_, ok := s.taken[id]
	delete(s.taken, id)
	return ok
}
