package store_test

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store"
	"lentic/store/ledger"
	"lentic/store/record"
	"lentic/store/storetest"
)

func open(t testing.TB, path string) *store.Store {
	t.Helper()
	s, err := store.Open(path, store.Options{Writer: "test"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

var base = aquarium.At(time.Date(2031, 3, 2, 0, 0, 0, 0, time.UTC))

func key(n int) aquarium.SensorKey {
	return aquarium.SensorKey{Site: "quillmere-library", Tank: "atrium", Sensor: aquarium.SensorID(fmt.Sprintf("n%d", n))}
}

func all(t testing.TB, s interface {
	Window(aquarium.SensorKey, aquarium.Instant, aquarium.Instant, func(aquarium.Reading) bool) error
}, k aquarium.SensorKey, from, to aquarium.Instant) []aquarium.Reading {
	t.Helper()
	var rs []aquarium.Reading
	if err := s.Window(k, from, to, func(r aquarium.Reading) bool { rs = append(rs, r); return true }); err != nil {
		t.Fatal(err)
	}
	return rs
}

// TestAgainstModel appends the same random work to the store on disk and to the
// one in memory: late, repeated, conflicting, out of order, reopened midway.
func TestAgainstModel(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lentic.db")
	s, model := open(t, path), storetest.NewMemory()
	rnd := rand.New(rand.NewPCG(3, 4))
	for round := range 400 {
		var b aquarium.Batch
		for range rnd.IntN(60) {
			r := aquarium.Reading{
				Sensor: key(rnd.IntN(4)), Unit: []aquarium.Unit{"pH", "mV", ""}[rnd.IntN(3)],
				At: base.Add(time.Duration(rnd.IntN(3000)) * time.Second), Value: float64(rnd.IntN(3)), Retimed: rnd.IntN(20) == 0,
			}
			if rnd.IntN(50) == 0 {
				r.At = r.At.Add(-200 * 24 * time.Hour)
			}
			b.Readings = append(b.Readings, r)
		}
		got, err := s.Append(b, nil)
		if err != nil {
			t.Fatal(err)
		}
		want, err := model.Append(b, nil)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("round %d: got %+v, want %+v", round, got, want)
		}
		if round == 200 {
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			s = open(t, path)
		}
	}
	for n := range 4 {
		k := key(n)
		for range 200 {
			from := base.Add(time.Duration(rnd.IntN(4000)-500) * time.Second)
			to := from.Add(time.Duration(rnd.IntN(2000)) * time.Second)
			if got, want := all(t, s, k, from, to), all(t, model, k, from, to); !reflect.DeepEqual(got, want) {
				t.Fatalf("%s from %s to %s: got %d readings, want %d", k, from, to, len(got), len(want))
			}
		}
		got, _ := s.Latest(k)
		want, _ := model.Latest(k)
		if got != want {
			t.Errorf("latest of %s: got %v, want %v", k, got, want)
		}
		got, _ = s.First(k)
		want, _ = model.First(k)
		if got != want {
			t.Errorf("first of %s: got %v, want %v", k, got, want)
		}
	}
	if got, want := s.Conflicts(1000), model.Conflicts(1000); !reflect.DeepEqual(got, want) {
		t.Errorf("conflicts: got %d, want %d", len(got), len(want))
	}
	if err := s.Check(); err != nil {
		t.Error(err)
	}
}

func TestHookUndoesTheBatch(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "lentic.db"))
	b := aquarium.Batch{Readings: []aquarium.Reading{{Sensor: key(1), At: base, Value: 1}}}
	no := errors.New("no")
	_, err := s.Append(b, func(tx ledger.Tx, o aquarium.Outcome) error {
		if len(o.Fresh) != 1 {
			t.Errorf("hook saw %d fresh readings, want 1", len(o.Fresh))
		}
		return errors.Join(tx.Put("marks", "a", 1), no)
	})
	if !errors.Is(err, no) {
		t.Fatalf("got %v, want the hook's error", err)
	}
	if rs := all(t, s, key(1), base, base+1); len(rs) != 0 {
		t.Errorf("got %d readings of a batch that was undone", len(rs))
	}
	if _, err := s.Append(b, func(tx ledger.Tx, _ aquarium.Outcome) error { return tx.Put("marks", "a", 2) }); err != nil {
		t.Fatal(err)
	}
	var mark int
	if err := s.View(func(tx ledger.Tx) error { _, err := tx.Get("marks", "a", &mark); return err }); err != nil || mark != 2 {
		t.Errorf("mark: got %d, %v; want 2", mark, err)
	}
}

// TestUndoneBatchLeavesNoTrace: what a batch that was undone said of a series'
// newest time, or of a series that was new, counts for nothing in the next.
func TestUndoneBatchLeavesNoTrace(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "lentic.db"))
	at := func(n, second int, v float64) aquarium.Reading {
		return aquarium.Reading{Sensor: key(n), At: base.Add(time.Duration(second) * time.Second), Value: v}
	}
	appendTo := func(hook store.Hook, rs ...aquarium.Reading) aquarium.Outcome {
		o, err := s.Append(aquarium.Batch{Readings: rs}, hook)
		if (err != nil) != (hook != nil) {
			t.Fatal(err)
		}
		return o
	}
	undo := func(ledger.Tx, aquarium.Outcome) error { return errors.New("no") }
	appendTo(nil, at(0, 100, 1))
	appendTo(undo, at(0, 50, 1), at(1, 50, 1))
	if o := appendTo(nil, at(0, 100, 2)); o.Conflicts != 1 {
		t.Errorf("another value for a time that is taken: got %+v, want a conflict", o)
	}
	appendTo(nil, at(0, 200, 1), at(1, 200, 1))
	want := map[int][]aquarium.Reading{0: {at(0, 100, 1), at(0, 200, 1)}, 1: {at(1, 200, 1)}}
	for _, when := range []string{"at once", "opened again"} {
		for n, rs := range want {
			if got := all(t, s, key(n), 0, base.Add(time.Hour)); !reflect.DeepEqual(got, rs) {
				t.Errorf("%s: sensor %d: got %v, want %v", when, n, got, rs)
			}
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		s = open(t, s.Path())
	}
}

func TestRefusedFiles(t *testing.T) {
	dir := t.TempDir()
	ours := filepath.Join(dir, "ours.db")
	if err := open(t, ours).Close(); err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(ours)
	if err != nil {
		t.Fatal(err)
	}
	newer := filepath.Join(dir, "newer.db")
	if err := os.WriteFile(newer, whole, 0o600); err != nil {
		t.Fatal(err)
	}
	db, err := bolt.Open(newer, 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	db.Update(func(tx *bolt.Tx) error {
		k := []byte("format")
		return tx.Bucket([]byte("meta")).Put(k, record.Seal(nil, k, []byte("999")))
	})
	db.Close()
	newerBytes, err := os.ReadFile(newer)
	if err != nil {
		t.Fatal(err)
	}
	foreign := filepath.Join(dir, "foreign.db")
	fdb, err := bolt.Open(foreign, 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	fdb.Close()
	foreignBytes, err := os.ReadFile(foreign)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name string
		file []byte
		want error
	}{
		{"newer format", newerBytes, store.ErrNewerFormat},
		{"somebody else's bbolt file", foreignBytes, store.ErrNotOurs},
		{"a text", bytes.Repeat([]byte("no database\n"), 1000), store.ErrNotOurs},
		{"empty", nil, store.ErrNotOurs},
		{"cut short", whole[:len(whole)/2], store.ErrDamaged},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "lentic.db")
			if err := os.WriteFile(path, c.file, 0o600); err != nil {
				t.Fatal(err)
			}
			s, err := store.Open(path, store.Options{})
			if err == nil {
				s.Close()
			}
			if !errors.Is(err, c.want) {
				t.Errorf("got %v, want %v", err, c.want)
			}
			after, err := os.ReadFile(path)
			if err != nil || !bytes.Equal(after, c.file) {
				t.Errorf("the file was changed (%v)", err)
			}
		})
	}
}

func TestLocked(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lentic.db")
	open(t, path)
	if _, err := store.Open(path, store.Options{}); !errors.Is(err, store.ErrLocked) {
		t.Errorf("got %v, want ErrLocked", err)
	}
}

// TestFlippedBits: no flipped bit becomes a wrong value, and none ends the
// process or hangs it. Bits in free pages, and in bytes bbolt does not look at,
// change nothing.
func TestFlippedBits(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "lentic.db")
	s := open(t, path)
	var b aquarium.Batch
	for i := range 2000 {
		b.Readings = append(b.Readings, aquarium.Reading{Sensor: key(i % 4), At: base.Add(time.Duration(i) * time.Second), Value: float64(i)})
	}
	if _, err := s.Append(b, nil); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	rnd := rand.New(rand.NewPCG(5, 6))
	named, silent := 0, 0
	for range 300 {
		flipped := bytes.Clone(whole)
		flipped[rnd.IntN(len(flipped))] ^= 1 << rnd.IntN(8)
		p := filepath.Join(dir, "flipped.db")
		if err := os.WriteFile(p, flipped, 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := store.Open(p, store.Options{})
		if err != nil {
			named++
			continue
		}
		seen := 0
		var damage error
		for n := range 4 {
			damage = errors.Join(damage, s.Window(key(n), base, base.Add(time.Hour), func(r aquarium.Reading) bool {
				if want := float64(r.At.Sub(base) / time.Second); r.Value != want {
					t.Errorf("read %v at %s, want %v", r.Value, r.At, want)
				}
				seen++
				return true
			}))
		}
		switch {
		case damage != nil:
			named++
		case seen == 2000:
			silent++
		default:
			// bbolt's own pages have no checksum: keys may vanish from
			// sight. Check must find that.
			if s.Check() == nil {
				t.Errorf("%d of 2000 readings are gone and Check finds nothing", 2000-seen)
			}
			named++
		}
		s.Close()
	}
	t.Logf("300 flipped bits: %d named, %d without effect, no wrong value", named, silent)
}
