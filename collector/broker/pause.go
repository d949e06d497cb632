package broker

// Pause closes every connection and lets nobody in, until Pause(false): for
// when nothing can be taken, as on a full disk. Devices keep what was not
// acknowledged and come back by themselves. Their Wills are not taken, for it
// was not they who left. It may be called before Run, and twice.
func (b *Broker) Pause(on bool) {
	b.paused.Store(on)
	b.listener.pause(on)
	if !on {
		return
	}
	b.mu.Lock()
	for _, s := range b.sessions {
		s.forgetUnstored()
	}
	b.mu.Unlock()
	b.hangUp()
}

func (l *listener) pause(on bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.paused = on
	if on {
		for k := range l.links {
			k.paused.Store(true)
		}
	}
}

// forgetUnstored drops what was handed over and is not on disk: it will come
// again, and must then be taken like the first time.
func (s *session) forgetUnstored() {
	s.mu.Lock()
	defer s.mu.Unlock()
	for id, h := range s.taken {
		if !h.stored {
			delete(s.taken, id)
		}
	}
}
