package proof

import (
	"errors"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"time"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
	"lentic/store/record"
	"lentic/store/storetest"
)

// contents is all that a store answers with.
type contents struct {
	Series    map[aquarium.SensorKey][]aquarium.Reading
	Documents map[string]string
	Conflicts []record.Conflict
	Refused   []aquarium.Refusal
	Unclaimed []record.Topic
	Aside     []record.SetAside
}

const (
	longAgo = aquarium.Instant(-1 << 52)
	farOff  = aquarium.Instant(1 << 52)
)

// read reads all of a store, and checks that what it says in several ways is
// the same.
func read(s storetest.Store) (contents, error) {
	c := contents{
		Series: map[aquarium.SensorKey][]aquarium.Reading{}, Documents: map[string]string{},
		Conflicts: s.Conflicts(1 << 20), Refused: s.Refused(1 << 20), Unclaimed: s.UnclaimedTopics(), Aside: s.SetAside(),
	}
	var errs []error
	for _, k := range s.Sensors() {
		var rs []aquarium.Reading
		err := s.Window(k, longAgo, farOff, func(r aquarium.Reading) bool { rs = append(rs, r); return true })
		errs = append(errs, err)
		if len(rs) > 0 {
			c.Series[k] = rs
		}
		errs = append(errs, ends(s, k, rs))
	}
	errs = append(errs, s.View(func(tx ledger.Tx) error {
		for _, shelf := range []string{"marks", "alarms", "journal"} {
			if err := tx.Each(shelf, "", "", func(key string, doc []byte) bool {
				c.Documents[shelf+"/"+key] = string(doc)
				return true
			}); err != nil {
				return err
			}
		}
		return nil
	}))
	return c, errors.Join(errs...)
}

// ends checks a series' first and latest readings, that its times rise, and
// that its sums by hours are those of its readings.
func ends(s storetest.Store, k aquarium.SensorKey, rs []aquarium.Reading) error {
	first, ok1 := s.First(k)
	latest, ok2 := s.Latest(k)
	if len(rs) == 0 {
		if ok1 || ok2 {
			return fmt.Errorf("%s: no readings, but a first %v or latest %v", k, first, latest)
		}
		return nil
	}
	if first != rs[0] || latest != rs[len(rs)-1] {
		return fmt.Errorf("%s: first %v and latest %v, want %v and %v", k, first, latest, rs[0], rs[len(rs)-1])
	}
	for i := range rs[1:] {
		if rs[i].At >= rs[i+1].At {
			return fmt.Errorf("%s: %v before %v", k, rs[i], rs[i+1])
		}
	}
	return nil
}

// summed is what the readings of all series come to by hours.
func summed(s storetest.Store, c contents) (map[aquarium.SensorKey][]aquarium.Sum, error) {
	all := map[aquarium.SensorKey][]aquarium.Sum{}
	for k := range c.Series {
		var sums []aquarium.Sum
		if err := s.Sums(k, longAgo, farOff, time.Hour, func(x aquarium.Sum) bool { sums = append(sums, x); return true }); err != nil {
			return nil, err
		}
		slices.SortFunc(sums, func(a, b aquarium.Sum) int {
			if a.At != b.At {
				return int(a.At - b.At)
			}
			return map[bool]int{true: -1, false: 1}[a.Unit < b.Unit]
		})
		all[k] = sums
	}
	return all, nil
}

// after drops readings before a time, and series that then have none.
func (c contents) after(t aquarium.Instant) contents {
	kept := map[aquarium.SensorKey][]aquarium.Reading{}
	for k, rs := range c.Series {
		i, _ := slices.BinarySearchFunc(rs, t, func(r aquarium.Reading, t aquarium.Instant) int { return int(r.At - t) })
		if i < len(rs) {
			kept[k] = rs[i:]
		}
	}
	c.Series = kept
	return c
}

// within finds a reading that is not among those of d.
func (c contents) within(d contents) error {
	for k, rs := range c.Series {
		i := 0
		for _, r := range rs {
			for i < len(d.Series[k]) && d.Series[k][i].At < r.At {
				i++
			}
			if i == len(d.Series[k]) || d.Series[k][i] != r {
				return fmt.Errorf("%v is not among what it may be", r)
			}
		}
	}
	return nil
}

func (c contents) same(d contents) bool { return reflect.DeepEqual(c, d) }

// differs says in a few words where c is not d.
func (c contents) differs(d contents) string {
	for _, k := range slices.SortedFunc(maps.Keys(d.Series), record.Compare) {
		if got, want := c.Series[k], d.Series[k]; !reflect.DeepEqual(got, want) {
			for i := range want {
				if i >= len(got) || got[i] != want[i] {
					return fmt.Sprintf("%s: %d readings, want %d; number %d is not %v", k, len(got), len(want), i, want[i])
				}
			}
			return fmt.Sprintf("%s: %d readings, want %d", k, len(got), len(want))
		}
	}
	switch {
	case len(c.Series) != len(d.Series):
		return fmt.Sprintf("%d series, want %d", len(c.Series), len(d.Series))
	case !maps.Equal(c.Documents, d.Documents):
		return fmt.Sprintf("documents %.300v, want %.300v", c.Documents, d.Documents)
	case !reflect.DeepEqual(c.Conflicts, d.Conflicts):
		return fmt.Sprintf("%d conflicts, want %d", len(c.Conflicts), len(d.Conflicts))
	}
	return "what is no reading differs"
}
