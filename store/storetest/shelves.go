package storetest

import (
	"maps"
	"slices"
	"strings"
	"time"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
	"lentic/store/record"
)

// take puts the batch's odd things on their shelves and trims them.
func (s *shelves) take(b aquarium.Batch) {
	s.aside = append(s.aside, b.Aside...)
	for _, u := range b.Unclaimed {
		u.Payload = slices.Clone(u.Payload)
		s.unclaimed = append(s.unclaimed, u)
	}
	for _, r := range b.Refused {
		r.Payload = slices.Clone(r.Payload[:min(len(r.Payload), record.RefusedPayload)])
		s.refused = append(s.refused, r)
	}
	s.trimRefused()
	if len(b.Unclaimed) > 0 { // until others come there is room for the old
		s.trimUnclaimed(b.Arrived)
	}
	s.trimAside()
}

func (s *shelves) trimRefused() {
	type group struct {
		reason aquarium.Reason
		source string
	}
	seen := map[group]int{}
	var kept []aquarium.Refusal
	for _, r := range slices.Backward(s.refused) {
		g := group{r.Reason, r.Source}
		seen[g]++
		if seen[g] <= record.RefusedEach && len(kept) < record.RefusedAll {
			kept = append(kept, r)
		}
	}
	slices.Reverse(kept)
	s.refused = kept
}

func (s *shelves) trimUnclaimed(now aquarium.Instant) {
	size := 0
	for _, u := range s.unclaimed {
		size += len(u.Topic) + len(u.Payload)
	}
	for len(s.unclaimed) > 0 && (size > record.UnclaimedBytes || s.unclaimed[0].Arrived < now.Add(-record.UnclaimedFor)) {
		size -= len(s.unclaimed[0].Topic) + len(s.unclaimed[0].Payload)
		s.unclaimed = s.unclaimed[1:]
	}
}

func (s *shelves) trimAside() {
	seen := map[record.SetAside]int{}
	for _, a := range s.aside {
		seen[record.SetAside{Site: a.Reading.Sensor.Site, Gateway: a.Gateway}]++
	}
	s.aside = slices.DeleteFunc(s.aside, func(a aquarium.Aside) bool {
		g := record.SetAside{Site: a.Reading.Sensor.Site, Gateway: a.Gateway}
		over := seen[g] > record.AsideEach
		if over {
			seen[g]--
		}
		return over
	})
}

// Conflicts lists the last conflicts, newest first.
func (m *Memory) Conflicts(limit int) []record.Conflict {
	m.mu.RLock()
	defer m.mu.RUnlock()
	return newest(m.shelf.conflicts, limit)
}

// Refused lists the last refusals, newest first.
func (m *Memory) Refused(limit int) []aquarium.Refusal {
	m.mu.RLock()
	defer m.mu.RUnlock()
	return newest(m.shelf.refused, limit)
}

// UnclaimedTopics sums up what is kept for topics that no sensor has.
func (m *Memory) UnclaimedTopics() []record.Topic {
	m.mu.RLock()
	defer m.mu.RUnlock()
	by := map[string]*record.Topic{}
	for _, u := range m.shelf.unclaimed {
		record.Sum(by, u)
	}
	var ts []record.Topic
	for _, name := range slices.Sorted(maps.Keys(by)) {
		ts = append(ts, *by[name])
	}
	return ts
}

// TakeUnclaimed hands over the messages of those topics, oldest first, and
// forgets them once fn has returned nil.
func (m *Memory) TakeUnclaimed(topics []string, fn func([]aquarium.Unclaimed) error) (int, error) {
	m.mu.RLock()
	var taken []aquarium.Unclaimed
	for _, u := range m.shelf.unclaimed {
		if slices.Contains(topics, u.Topic) {
			taken = append(taken, u)
		}
	}
	m.mu.RUnlock()
	if len(taken) == 0 {
		return 0, nil
	}
	if err := fn(taken); err != nil {
		return 0, err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	gone := len(taken)
	m.shelf.unclaimed = slices.DeleteFunc(m.shelf.unclaimed, func(u aquarium.Unclaimed) bool {
		if gone > 0 && slices.Contains(topics, u.Topic) {
			gone--
			return true
		}
		return false
	})
	return len(taken), nil
}

// SetAside sums up what waits for an offset, by site and gateway.
func (m *Memory) SetAside() []record.SetAside {
	m.mu.RLock()
	defer m.mu.RUnlock()
	by := map[record.SetAside]*record.SetAside{}
	for _, a := range m.shelf.aside {
		g := record.SetAside{Site: a.Reading.Sensor.Site, Gateway: a.Gateway}
		s, ok := by[g]
		if !ok {
			s = &record.SetAside{Site: g.Site, Gateway: g.Gateway}
			by[g] = s
		}
		s.Records++
		s.Claimed, s.Arrived = a.Reading.At, a.Arrived
	}
	var ss []record.SetAside
	for _, s := range by {
		ss = append(ss, *s)
	}
	slices.SortFunc(ss, func(a, b record.SetAside) int {
		if c := strings.Compare(string(a.Site), string(b.Site)); c != 0 {
			return c
		}
		return strings.Compare(string(a.Gateway), string(b.Gateway))
	})
	return ss
}

// Asides lists what waits for an offset at a site, by gateway and arrival.
func (m *Memory) Asides(site aquarium.SiteID) []aquarium.Aside {
	m.mu.RLock()
	defer m.mu.RUnlock()
	var as []aquarium.Aside
	for _, a := range m.shelf.aside {
		if a.Reading.Sensor.Site == site {
			as = append(as, a)
		}
	}
	slices.SortStableFunc(as, func(a, b aquarium.Aside) int { return strings.Compare(string(a.Gateway), string(b.Gateway)) })
	return as
}

// ReleaseAside moves a gateway's records into the readings, offset later.
func (m *Memory) ReleaseAside(site aquarium.SiteID, g aquarium.GatewayID, offset time.Duration, hook func(tx ledger.Tx, o aquarium.Outcome) error) (aquarium.Outcome, error) {
	now := time.Now
	if m.Now != nil {
		now = m.Now
	}
	b := aquarium.Batch{Arrived: aquarium.At(now())}
	free := func(a aquarium.Aside) bool {
		return a.Reading.Sensor.Site == site && a.Gateway == g && record.Plausible(a.Reading.At.Add(offset), b.Arrived)
	}
	for _, a := range m.Asides(site) {
		if free(a) {
			r := a.Reading
			r.At, r.Retimed = r.At.Add(offset), true
			b.Readings = append(b.Readings, r)
		}
	}
	return m.write(b, false, hook, func() { m.shelf.aside = slices.DeleteFunc(m.shelf.aside, free) })
}

func last[T any](s []T, n int) []T { return s[max(0, len(s)-n):] }

func newest[T any](s []T, limit int) []T {
	s = slices.Clone(last(s, max(0, limit)))
	slices.Reverse(s)
	return s
}
