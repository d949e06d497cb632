package store

import "lentic/collector/aquarium"

// What a commit has brought to the disk goes into the heads of its series only
// while the next one waits for the disk, or once somebody looks: putting 5000
// readings where they belong takes as long as writing them into the log.

// worthWaiting is how many readings are left for that. Fewer are quicker put than
// a goroutine begun.
const worthWaiting = 256

// rlock is mu.RLock, once all that has landed is in the heads: whoever looks at
// what is pending takes it.
func (s *Store) rlock() {
	for {
		s.mu.RLock()
		if len(s.landed.readings) == 0 {
			return
		}
		s.mu.RUnlock()
		s.catchUp()
	}
}

// newest is a time that no reading of the series lies after, one that has landed
// included.
func (l *landed) newest(x *series) aquarium.Instant {
	if l.number != 0 && l.number == x.tipped {
		return x.tip // they were rising
	}
	return x.newest()
}

// catchUp puts what has landed into the heads.
func (s *Store) catchUp() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.put()
}

// put is catchUp for who holds mu.
func (s *Store) put() {
	if len(s.landed.readings) > 0 {
		s.catalogue.take(&s.landed)
	}
	s.landed.reset()
	s.landed.number = 0
}

// land makes a transaction's readings true in memory. The caller holds mu and
// writing.
func (s *Store) land(t *txn) {
	s.put()
	now := aquarium.At(s.opt.Now())
	l := landed{standing: t.stands, first: t.firstSeq, last: t.lastSeq, at: now, number: t.number}
	if t.rising && len(l.readings) >= worthWaiting {
		s.scratch, s.landed = s.landed.standing, l
		return
	}
	if len(l.readings) > 0 {
		s.catalogue.take(&l)
		s.scratch = l.standing
	}
}

// commitBeside commits while what landed before is put where it belongs.
func (s *Store) commitBeside(commit func() error) error {
	s.mu.RLock()
	behind := len(s.landed.readings) > 0
	s.mu.RUnlock()
	if !behind {
		return commit()
	}
	done := make(chan struct{})
	go func() {
		s.catchUp()
		close(done)
	}()
	defer func() { <-done }()
	return commit()
}
