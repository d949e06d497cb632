package store

import (
	"cmp"
	"slices"
	"time"

	"lentic/collector/aquarium"
)

const (
	// settle is how long after its end a stretch is sealed: longer than a
	// gateway's readings are usually late, so that few are sealed twice.
	settle = 15 * time.Minute
	// quiet is how long no reading has come for a stretch before it is
	// sealed, so that a backlog is not sealed again with each of its messages.
	quiet = time.Minute
	// together is how many stretches are sealed at once, where another one
	// ends within company: two blocks share their pages, so half a page is
	// lost for two and not for one, and neither is written again, elsewhere,
	// with the next. What one tank sends in half a day waits in the log.
	together = 2
	company  = stretch
	// crowded is how many readings may be pending before the fullest stretch
	// is sealed without waiting for quiet: some 16 MiB.
	crowded = 8 << 20
)

// Tidy does one bounded piece of housekeeping: it seals stretches whose time is
// over, two together or a last one alone, deletes log records that are no longer
// needed, or readings older than they are to be kept. It reports whether there is
// more to do now. It may be called beside anything else; ErrFull waits for room, any other ErrDisk is
// final.
func (s *Store) Tidy() (more bool, err error) {
	s.tidying.Lock()
	defer s.tidying.Unlock()
	if err := s.room(0); err != nil {
		return false, err
	}
	if ps := s.ripe(); len(ps) > 0 {
		return s.seal(ps...)
	}
	if more, err := s.forget(); more || err != nil {
		return more, err
	}
	return s.trimLog(logSlack)
}

// Seal puts all that is pending into blocks, whether its time is over or not.
func (s *Store) Seal() error {
	s.tidying.Lock()
	defer s.tidying.Unlock()
	for {
		ps := s.choose(func(*pending) bool { return true })
		if len(ps) == 0 {
			break
		}
		if _, err := s.seal(ps[:min(len(ps), together)]...); err != nil {
			return err
		}
	}
	for {
		if more, err := s.trimLog(0); !more || err != nil {
			return err
		}
	}
}

// ripe are the stretches to be sealed now.
func (s *Store) ripe() []*pending {
	now := aquarium.At(s.opt.Now())
	ps := s.choose(func(p *pending) bool { return p.ripens() <= now && p.touched.Add(quiet) <= now })
	switch {
	case len(ps) >= together:
		return ps[:together]
	case len(ps) > 0 && len(s.choose(func(p *pending) bool { return p.ripens() > now && p.ripens() <= now.Add(company) })) == 0:
		return ps
	}
	s.rlock()
	defer s.mu.RUnlock()
	all := 0
	var fullest *pending
	for _, g := range s.catalogue.groups {
		for _, p := range g.open {
			all += p.n
			if fullest == nil || p.n > fullest.n {
				fullest = p
			}
		}
	}
	if all < crowded {
		return nil
	}
	return []*pending{fullest}
}

// choose are the pending stretches that will do, those first that hold the log
// back most.
func (s *Store) choose(will func(*pending) bool) []*pending {
	s.rlock()
	defer s.mu.RUnlock()
	var all []*pending
	for _, g := range s.catalogue.groups {
		for _, p := range g.open {
			if will(p) {
				all = append(all, p)
			}
		}
	}
	slices.SortFunc(all, func(a, b *pending) int {
		return cmp.Or(cmp.Compare(a.firstSeq, b.firstSeq), cmp.Compare(a.start, b.start), cmp.Compare(a.group.number, b.group.number))
	})
	return all
}
