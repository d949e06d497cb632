package storetest

import (
	"slices"
	"sync"
	"time"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
	"lentic/store/record"
)

// Store is what any store of lentic's does. Package store documents each
// method; the one there and Memory both meet it.
type Store interface {
	ledger.Ledger
	Append(b aquarium.Batch, hook func(tx ledger.Tx, o aquarium.Outcome) error) (aquarium.Outcome, error)
	Replace(b aquarium.Batch, hook func(tx ledger.Tx, o aquarium.Outcome) error) (aquarium.Outcome, error)
	Bulk(fn func(add func(aquarium.Batch) error) error) error
	Window(k aquarium.SensorKey, from, to aquarium.Instant, fn func(aquarium.Reading) bool) error
	Sums(k aquarium.SensorKey, from, to aquarium.Instant, width time.Duration, fn func(aquarium.Sum) bool) error
	Sensors() []aquarium.SensorKey
	Latest(k aquarium.SensorKey) (aquarium.Reading, bool)
	First(k aquarium.SensorKey) (aquarium.Reading, bool)
	Conflicts(limit int) []record.Conflict
	Refused(limit int) []aquarium.Refusal
	UnclaimedTopics() []record.Topic
	TakeUnclaimed(topics []string, fn func([]aquarium.Unclaimed) error) (int, error)
	SetAside() []record.SetAside
	Asides(site aquarium.SiteID) []aquarium.Aside
	ReleaseAside(site aquarium.SiteID, g aquarium.GatewayID, offset time.Duration, hook func(tx ledger.Tx, o aquarium.Outcome) error) (aquarium.Outcome, error)
	ID() string
	Check() error
	Close() error
}

// Memory is a Store in memory, as plain as can be. Its methods may be called
// by any goroutine.
type Memory struct {
	*Ledger
	// Now is the clock that a release is held against; nil is time.Now.
	Now func() time.Time

	writing sync.Mutex   // one writer at a time, held around hooks too
	mu      sync.RWMutex // guards what follows; never held around a hook
	series  map[aquarium.SensorKey][]aquarium.Reading
	shelf   shelves
}

type shelves struct {
	conflicts []record.Conflict
	refused   []aquarium.Refusal
	unclaimed []aquarium.Unclaimed
	aside     []aquarium.Aside
}

// NewMemory is an empty store.
func NewMemory() *Memory {
	return &Memory{Ledger: NewLedger(), series: map[aquarium.SensorKey][]aquarium.Reading{}}
}

// ID is the same for every store in memory.
func (m *Memory) ID() string { return "00000000000000000000000000000000" }

// Check finds nothing: there are no bytes to go bad.
func (m *Memory) Check() error { return nil }

// Close does nothing; the store stays readable.
func (m *Memory) Close() error { return nil }

// Append keeps a batch, or nothing of it when hook fails.
func (m *Memory) Append(b aquarium.Batch, hook func(tx ledger.Tx, o aquarium.Outcome) error) (aquarium.Outcome, error) {
	return m.write(b, false, hook, nil)
}

// Replace is Append, but the new value stands.
func (m *Memory) Replace(b aquarium.Batch, hook func(tx ledger.Tx, o aquarium.Outcome) error) (aquarium.Outcome, error) {
	return m.write(b, true, hook, nil)
}

// Bulk appends batch by batch.
func (m *Memory) Bulk(fn func(add func(aquarium.Batch) error) error) error {
	return fn(func(b aquarium.Batch) error {
		_, err := m.Append(b, nil)
		return err
	})
}

// write works out what the batch would change, asks the hook, and then changes
// it. also is run with the change, under the lock.
func (m *Memory) write(b aquarium.Batch, replace bool, hook func(tx ledger.Tx, o aquarium.Outcome) error, also func()) (aquarium.Outcome, error) {
	m.writing.Lock()
	defer m.writing.Unlock()
	staged, out, conflicts := m.stage(b, replace)
	if hook != nil {
		if err := m.Update(func(tx ledger.Tx) error { return hook(tx, out) }); err != nil {
			return aquarium.Outcome{}, err
		}
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	for k, rs := range staged {
		m.series[k] = rs
	}
	m.shelf.conflicts = last(append(m.shelf.conflicts, conflicts...), record.ConflictsAll)
	m.shelf.take(b)
	if also != nil {
		also()
	}
	return out, nil
}

func (m *Memory) stage(b aquarium.Batch, replace bool) (map[aquarium.SensorKey][]aquarium.Reading, aquarium.Outcome, []record.Conflict) {
	m.mu.RLock()
	defer m.mu.RUnlock()
	staged := map[aquarium.SensorKey][]aquarium.Reading{}
	var out aquarium.Outcome
	var conflicts []record.Conflict
	for _, r := range b.Readings {
		rs, ok := staged[r.Sensor]
		if !ok {
			rs = slices.Clone(m.series[r.Sensor])
		}
		i, found := slices.BinarySearchFunc(rs, r.At, byTime)
		switch {
		case !found:
			rs = slices.Insert(rs, i, r)
			out.Fresh = append(out.Fresh, r)
		case record.Same(rs[i], r):
			out.Repeats++
		default:
			out.Conflicts++
			if replace {
				rs[i] = r
				out.Fresh = append(out.Fresh, r)
				break
			}
			conflicts = append(conflicts, record.Conflict{Stands: rs[i], Other: r, Arrived: b.Arrived})
		}
		staged[r.Sensor] = rs
	}
	return staged, out, conflicts
}

func byTime(r aquarium.Reading, at aquarium.Instant) int {
	switch {
	case r.At < at:
		return -1
	case r.At > at:
		return 1
	}
	return 0
}

// Window gives the readings with from <= At < to, oldest first.
func (m *Memory) Window(k aquarium.SensorKey, from, to aquarium.Instant, fn func(aquarium.Reading) bool) error {
	m.mu.RLock()
	rs := m.series[k]
	i, _ := slices.BinarySearchFunc(rs, from, byTime)
	j, _ := slices.BinarySearchFunc(rs, to, byTime)
	rs = slices.Clone(rs[i:max(i, j)])
	m.mu.RUnlock()
	for _, r := range rs {
		if !fn(r) {
			return nil
		}
	}
	return nil
}

// Sums gives what the readings with from <= At < to come to, by width and
// unit; all of them count.
func (m *Memory) Sums(k aquarium.SensorKey, from, to aquarium.Instant, width time.Duration, fn func(aquarium.Sum) bool) error {
	var sums []aquarium.Sum
	err := m.Window(k, from, to, func(r aquarium.Reading) bool {
		at := r.At.Floor(width)
		i := len(sums) - 1
		for i >= 0 && sums[i].At == at && sums[i].Unit != r.Unit {
			i--
		}
		if i < 0 || sums[i].At != at {
			sums = append(sums, aquarium.Sum{At: at, Unit: r.Unit, Min: r.Value, Max: r.Value})
			i = len(sums) - 1
		}
		s := &sums[i]
		s.Good++
		s.Min, s.Max, s.Sum = min(s.Min, r.Value), max(s.Max, r.Value), s.Sum+r.Value
		return true
	})
	for _, s := range sums {
		if !fn(s) {
			break
		}
	}
	return err
}

// Sensors lists the sensors with readings, in their order.
func (m *Memory) Sensors() []aquarium.SensorKey {
	m.mu.RLock()
	defer m.mu.RUnlock()
	var ks []aquarium.SensorKey
	for k, rs := range m.series {
		if len(rs) > 0 {
			ks = append(ks, k)
		}
	}
	slices.SortFunc(ks, record.Compare)
	return ks
}

// Latest is the newest reading of the sensor.
func (m *Memory) Latest(k aquarium.SensorKey) (aquarium.Reading, bool) {
	m.mu.RLock()
	defer m.mu.RUnlock()
	rs := m.series[k]
	if len(rs) == 0 {
		return aquarium.Reading{}, false
	}
	return rs[len(rs)-1], true
}

// First is the oldest reading of the sensor.
func (m *Memory) First(k aquarium.SensorKey) (aquarium.Reading, bool) {
	m.mu.RLock()
	defer m.mu.RUnlock()
	rs := m.series[k]
	if len(rs) == 0 {
		return aquarium.Reading{}, false
	}
	return rs[0], true
}
