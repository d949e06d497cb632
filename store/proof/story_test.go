package proof

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"reflect"
	"sync/atomic"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/store"
	"lentic/store/storetest"
)

// story is what a store that did a course must hold, deed by deed.
type story struct {
	t      testing.TB
	course course
	model  *storetest.Memory
	told   int // deeds done
	states map[int]state
}

type state struct {
	contents
	sums map[aquarium.SensorKey][]aquarium.Sum
}

// remembered is how many deeds back a story can be asked for.
const remembered = 12

func newStory(t testing.TB, c course) *story {
	return &story{t: t, course: c, model: storetest.NewMemory(), states: map[int]state{}}
}

// after is what there is when n deeds are done. It may be asked for what was
// some deeds ago, but not for long.
func (y *story) after(n int) state {
	y.t.Helper()
	for y.told <= n {
		if y.told > 0 {
			if err := y.course.deed(y.told - 1).do(y.model); err != nil {
				y.t.Fatal(err)
			}
		}
		if y.told > n-remembered {
			y.keep()
		}
		y.told++
	}
	s, ok := y.states[n]
	if !ok {
		y.t.Fatalf("%s: what was after %d deeds is forgotten", y.course.name, n)
	}
	return s
}

func (y *story) keep() {
	c, err := read(y.model)
	if err != nil {
		y.t.Fatal(err)
	}
	sums, err := summed(y.model, c)
	if err != nil {
		y.t.Fatal(err)
	}
	y.states[y.told] = state{c, sums}
	delete(y.states, y.told-remembered)
}

// judge holds a store against what it acknowledged: those deeds are there, and
// nothing else but, perhaps, the one that was under way. It gives how many
// deeds the store has done.
func (y *story) judge(s *store.Store, acknowledged int) (done int, err error) {
	got, err := read(s)
	if err != nil {
		return 0, err
	}
	before, after := y.after(acknowledged), y.after(acknowledged+1)
	// What is older than it must be kept may be there or not.
	horizon := y.course.horizon(acknowledged + 1)
	if err := got.within(after.contents); err != nil && got.within(before.contents) != nil {
		return 0, fmt.Errorf("invented: %w", err)
	}
	kept := got.after(horizon)
	done = -1
	switch d := y.course.deed(acknowledged); {
	case kept.same(after.contents.after(horizon)):
		done = acknowledged + 1
	case kept.same(before.contents.after(horizon)):
		done = acknowledged
	case !d.whole() && before.contents.after(horizon).within(kept) == nil:
		done = acknowledged
	}
	if done < 0 {
		return 0, fmt.Errorf("after %d deeds: %s", acknowledged, kept.differs(before.contents.after(horizon)))
	}
	sums, err := summed(s, got)
	if err != nil {
		return 0, err
	}
	if y.course.deed(acknowledged).whole() {
		for k := range kept.Series {
			if a, b := after.sums[k], before.sums[k]; !reflect.DeepEqual(sums[k], a) && !reflect.DeepEqual(sums[k], b) {
				return 0, fmt.Errorf("after %d deeds: %s: the sums by hours are not those of the readings:\n got %.600v\nwant %.600v", acknowledged, k, sums[k], b)
			}
		}
	}
	return done, s.Check()
}

// open opens a store as the child does, with lentic's clock at the deed that is
// being done.
func (c course) open(path string, deed *atomic.Int64) (*store.Store, error) {
	keep := c.keep
	if keep == 0 {
		keep = -1
	}
	return store.Open(path, store.Options{
		Reserve: -1, Keep: keep, KeepMinutes: -1, Writer: "lentic proof",
		Now: func() time.Time { return c.at(int(deed.Load())).Time() },
	})
}

// judgeFile opens a database, judges it and closes it.
func (y *story) judgeFile(path string, acknowledged int) (done int, err error) {
	var now atomic.Int64
	now.Store(int64(acknowledged))
	s, err := y.course.open(path, &now)
	if err != nil {
		return 0, fmt.Errorf("opened again: %w", err)
	}
	done, err = y.judge(s, acknowledged)
	return done, errors.Join(err, s.Close())
}

// reopen opens what a failure left and judges it. With further deeds it goes on
// from there, and judges what they left too.
func (y *story) reopen(path string, acknowledged, further int) error {
	var now atomic.Int64
	now.Store(int64(acknowledged))
	s, err := y.course.open(path, &now)
	if err != nil {
		return fmt.Errorf("opened again: %w", err)
	}
	done, err := y.judge(s, acknowledged)
	if err != nil || further == 0 {
		return errors.Join(err, s.Close(), whole(path))
	}
	for n := done; n < done+further; n++ {
		now.Store(int64(n))
		if err := y.course.deed(n).do(s); err != nil {
			return errors.Join(fmt.Errorf("going on with deed %d: %w", n, err), s.Close())
		}
	}
	if err := s.Close(); err != nil {
		return err
	}
	if err := y.reopen(path, done+further, 0); err != nil {
		return fmt.Errorf("going on for %d deeds: %w", further, err)
	}
	return nil
}

// whole checks a closed file page by page.
func whole(path string) error {
	f, err := store.CheckFile(context.Background(), path, nil)
	return errors.Join(err, f.Err())
}

// TestCourses: a course that nothing befalls leaves what the model says, in the
// store that did it as in one that is opened anew. The other proofs rest on it.
func TestCourses(t *testing.T) {
	for _, c := range courses {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(quickDir(t), "lentic.db")
			var now atomic.Int64
			s, err := c.open(path, &now)
			if err != nil {
				t.Fatal(err)
			}
			defer func() { s.Close() }()
			y := newStory(t, c)
			deeds := max(60, scaled(200, 400))
			for n := range deeds {
				now.Store(int64(n))
				if err := c.deed(n).do(s); err != nil {
					t.Fatal(err)
				}
				if n%3 > 0 {
					continue
				}
				if _, err := y.judge(s, n+1); err != nil {
					t.Fatalf("deed %d: %v", n, err)
				}
				if n%30 > 0 {
					continue
				}
				if err := s.Close(); err != nil {
					t.Fatal(err)
				}
				if s, err = c.open(path, &now); err != nil {
					t.Fatal(err)
				}
			}
			t.Logf("%d deeds", deeds)
		})
	}
}
