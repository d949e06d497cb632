package store_test

import (
	"errors"
	"fmt"
	"path/filepath"
	"sync"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store"
	"lentic/store/ledger"
)

// TestAnyOrder: whichever order readings arrive in, and whenever they are
// sealed between, they come back once and in order, in as few blocks as there
// are stretches.
func TestAnyOrder(t *testing.T) {
	const n = 5000
	for _, c := range []struct {
		name  string
		order func(i int) int
	}{
		{"in order", func(i int) int { return i }},
		{"newest first", func(i int) int { return n - 1 - i }},
		{"a second pass between", func(i int) int { return i*2%n + i*2/n }},
		{"scattered", func(i int) int { return i * 1237 % n }},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "lentic.db")
			s := open(t, path)
			for i := 0; i < n; i += 10 {
				var b aquarium.Batch
				for j := range 10 {
					o := c.order(i + j)
					b.Readings = append(b.Readings, aquarium.Reading{Sensor: key(0), At: base.Add(time.Duration(o) * 20 * time.Second), Value: float64(o)})
				}
				if _, err := s.Append(b, nil); err != nil {
					t.Fatal(err)
				}
				if i%1500 == 0 {
					if err := s.Seal(); err != nil {
						t.Fatal(err)
					}
				}
			}
			whole := func() {
				t.Helper()
				rs := all(t, s, key(0), base, base.Add(n*20*time.Second))
				for i, r := range rs {
					if r.Value != float64(i) {
						t.Fatalf("reading %d: got %v", i, r)
					}
				}
				if len(rs) != n {
					t.Fatalf("got %d readings, want %d", len(rs), n)
				}
			}
			whole()
			if err := s.Check(); err != nil {
				t.Error(err)
			}
			s.Close()
			s = open(t, path)
			whole()
			if err := s.Seal(); err != nil {
				t.Fatal(err)
			}
			whole()
			s.Close()
			blocks, logged := 0, 0
			spoil(t, path, func(tx *bolt.Tx) {
				blocks = tx.Bucket([]byte("blocks")).Stats().KeyN
				logged = tx.Bucket([]byte("log")).Stats().KeyN
			})
			const marks = 3 // behind the last block
			if want := n*20/(12*3600) + 2 + marks; blocks > want || logged != 0 {
				t.Errorf("%d readings lie in %d blocks and %d log records, want at most %d and 0", n, blocks, logged, want)
			}
		})
	}
}

func TestBulk(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "lentic.db"))
	const n = 250_000
	err := s.Bulk(func(add func(aquarium.Batch) error) error {
		var b aquarium.Batch
		for i := range n {
			b.Readings = append(b.Readings, aquarium.Reading{Sensor: key(i % 5), At: base.Add(time.Duration(i/5) * time.Second), Value: float64(i)})
			if len(b.Readings) == 1000 {
				if err := add(b); err != nil {
					return err
				}
				clear(b.Readings) // the caller's again
				b.Readings = b.Readings[:0]
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for k := range 5 {
		rs := all(t, s, key(k), base, base.Add(time.Hour*24*365))
		if len(rs) != n/5 {
			t.Errorf("sensor %d: got %d readings, want %d", k, len(rs), n/5)
		}
		for i, r := range rs {
			if r.Value != float64(i*5+k) {
				t.Fatalf("sensor %d, reading %d: got %v", k, i, r.Value)
			}
		}
	}
	no := errors.New("no")
	if err := s.Bulk(func(func(aquarium.Batch) error) error { return no }); !errors.Is(err, no) {
		t.Errorf("got %v, want the caller's error", err)
	}
}

// TestWindowLetsWrite: what reads may write, and a commit meanwhile neither
// doubles nor hides a reading that was there.
func TestWindowLetsWrite(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "lentic.db"))
	var b aquarium.Batch
	for i := range 20_000 {
		b.Readings = append(b.Readings, aquarium.Reading{Sensor: key(0), At: base.Add(time.Duration(2*i) * time.Second), Value: float64(i)})
	}
	if _, err := s.Append(b, nil); err != nil {
		t.Fatal(err)
	}
	n := 0.0
	err := s.Window(key(0), base, base.Add(time.Hour*24), func(r aquarium.Reading) bool {
		if r.Value == -1 {
			return true
		}
		if r.Value != n {
			t.Fatalf("got %v, want %v", r.Value, n)
		}
		if n++; int(n)%1000 == 0 {
			between := aquarium.Reading{Sensor: key(0), At: r.At.Add(9001 * time.Second), Value: -1}
			if _, err := s.Append(aquarium.Batch{Readings: []aquarium.Reading{between}}, nil); err != nil {
				t.Fatal(err)
			}
		}
		return true
	})
	if err != nil || n != 20_000 {
		t.Errorf("got %v readings, %v; want 20000", n, err)
	}
}

// TestAtOnce has everybody at it together, for the race detector, and the
// newest readings must never go back.
func TestAtOnce(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "lentic.db"))
	var wg sync.WaitGroup
	done := make(chan struct{})
	reader := func(fn func()) {
		wg.Go(func() {
			for {
				select {
				case <-done:
					return
				default:
					fn()
				}
			}
		})
	}
	reader(func() {
		if err := s.Window(key(0), base, base.Add(time.Hour), func(aquarium.Reading) bool { return true }); err != nil {
			t.Error(err)
		}
	})
	last := aquarium.Instant(0)
	reader(func() {
		r, _ := s.Latest(key(0))
		if r.At < last {
			t.Errorf("the newest went back from %s to %s", last, r.At)
		}
		last = r.At
	})
	reader(func() {
		s.Sensors()
		s.First(key(1))
		s.Refused(5)
		s.SetAside()
		s.UnclaimedTopics()
		s.Size()
		s.Err()
	})
	reader(func() {
		if err := s.Update(func(tx ledger.Tx) error { return tx.Put("alarms", "a", time.Now()) }); err != nil {
			t.Error(err)
		}
	})
	for n := range 60 {
		b := killedBatch(n)
		b.Refused = []aquarium.Refusal{{Reason: aquarium.ReasonKind, Source: fmt.Sprint(n)}}
		b.Unclaimed = []aquarium.Unclaimed{{Topic: "t", Arrived: base}}
		if _, err := s.Append(b, nil); err != nil {
			t.Error(err)
		}
		if n%20 == 0 {
			if err := s.Check(); err != nil {
				t.Error(err)
			}
		}
	}
	close(done)
	wg.Wait()
}

// TestForeignPanic: a caller's own panic is not called damage, undoes its
// transaction, and leaves the store well.
func TestForeignPanic(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "lentic.db"))
	for name, call := range map[string]func(){
		"hook":   func() { s.Append(killedBatch(0), func(ledger.Tx, aquarium.Outcome) error { panic("mine") }) },
		"update": func() { s.Update(func(ledger.Tx) error { panic("mine") }) },
		"view":   func() { s.View(func(ledger.Tx) error { panic("mine") }) },
		"window": func() { s.Window(key(0), 0, base*2, func(aquarium.Reading) bool { panic("mine") }) },
	} {
		func() {
			defer func() {
				if p := recover(); p != "mine" {
					t.Errorf("%s: recovered %v", name, p)
				}
			}()
			if name == "window" {
				if _, err := s.Append(killedBatch(0), nil); err != nil {
					t.Error(err)
				}
			}
			call()
		}()
	}
	if got := countKilled(t, s); got != 1 {
		t.Errorf("got %d batches, want 1", got)
	}
}

func TestReadOnlyAndClosed(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lentic.db")
	if _, err := store.Open(path, store.Options{ReadOnly: true}); err == nil {
		t.Error("a file that is not there was opened for reading")
	}
	s := open(t, path)
	if _, err := s.Append(killedBatch(0), nil); err != nil {
		t.Fatal(err)
	}
	s.Close()
	if err := s.Close(); err != nil {
		t.Errorf("second close: %v", err)
	}
	if _, err := s.Append(killedBatch(1), nil); !errors.Is(err, store.ErrClosed) {
		t.Errorf("append after close: %v", err)
	}
	if err := s.Window(key(0), 0, base*2, func(aquarium.Reading) bool { return true }); !errors.Is(err, store.ErrClosed) {
		t.Errorf("window after close: %v", err)
	}
	for range 2 { // readers share
		r, err := store.Open(path, store.Options{ReadOnly: true})
		if err != nil {
			t.Fatal(err)
		}
		defer r.Close()
		if got := countKilled(t, r); got != 1 {
			t.Errorf("got %d batches, want 1", got)
		}
		if _, err := r.Append(killedBatch(1), nil); !errors.Is(err, store.ErrReadOnly) {
			t.Errorf("append: %v", err)
		}
	}
	if _, err := store.Open(path, store.Options{}); !errors.Is(err, store.ErrLocked) {
		t.Errorf("a writer beside readers: %v", err)
	}
}
