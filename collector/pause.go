package collector

// Pause leaves the broker and stays away until Pause(false): for when nothing
// can be taken, as on a full disk. The broker keeps what comes meanwhile, and
// sends what was not acknowledged again. It may be called before Run, and
// twice; not by many at once.
func (s *Subscription) Pause(on bool) {
	s.mu.Lock()
	client, running := s.client, s.ctx != nil && s.ctx.Err() == nil
	changed := s.paused != on
	s.paused = on
	if changed && running {
		s.acks.forgive(on)
		s.client = nil
		if !on {
			s.call()
		}
	}
	s.mu.Unlock()
	if !changed || !running || !on {
		return
	}
	s.up.Add(1)
	s.inbox.clear()
	client.Disconnect(quiesce)
	s.opt.OnState(false)
}
