package proof

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store"
	"lentic/store/ledger"
)

// sample is a closed database with all there is in one: blocks, sums, a log,
// documents, odd things; and what it holds.
type sample struct {
	file []byte
	want map[aquarium.SensorKey]map[aquarium.Instant]aquarium.Reading
}

func newSample(t *testing.T) sample {
	t.Helper()
	path := filepath.Join(t.TempDir(), "lentic.db")
	s, err := store.Open(path, store.Options{Reserve: -1, Keep: -1, Now: func() time.Time { return base.Time() }})
	if err != nil {
		t.Fatal(err)
	}
	x := sample{want: map[aquarium.SensorKey]map[aquarium.Instant]aquarium.Reading{}}
	rnd := rand.New(rand.NewPCG(4, 4))
	put := func(from aquarium.Instant, minutes int) {
		for m := range minutes {
			b := aquarium.Batch{Arrived: base}
			for n, k := range sensors {
				r := aquarium.Reading{Sensor: k, At: from.Add(time.Duration(m) * time.Minute), Value: float64(n) + float64(rnd.IntN(100))/100, Unit: "pH"}
				b.Readings = append(b.Readings, r)
				if x.want[k] == nil {
					x.want[k] = map[aquarium.Instant]aquarium.Reading{}
				}
				x.want[k][r.At] = r
			}
			if m%100 == 0 {
				b.Aside = []aquarium.Aside{{Reading: b.Readings[0], Gateway: "gw1", Arrived: base}}
				b.Refused = []aquarium.Refusal{{Reason: aquarium.ReasonUnit, Payload: []byte("6.5 bananas"), Arrived: base}}
				b.Unclaimed = []aquarium.Unclaimed{{Topic: "lentic/a/b/c", Payload: []byte("1"), Arrived: base}}
			}
			mark := func(tx ledger.Tx, _ aquarium.Outcome) error { return tx.Put("marks", fmt.Sprint(m%7), m) }
			if _, err := s.Append(b, mark); err != nil {
				t.Fatal(err)
			}
		}
	}
	put(base, 3000)
	if err := s.Seal(); err != nil {
		t.Fatal(err)
	}
	put(base.Add(3000*time.Minute), 400)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if x.file, err = os.ReadFile(path); err != nil {
		t.Fatal(err)
	}
	x.file = x.file[:used(t, path)] // bbolt makes a file longer in advance
	return x
}

// used is how far the file's pages reach.
func used(t *testing.T, path string) (size int64) {
	t.Helper()
	db, err := bbolt.Open(path, 0o600, &bbolt.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.View(func(tx *bbolt.Tx) error { size = tx.Size(); return nil }); err != nil {
		t.Fatal(err)
	}
	return size
}

// patience is how long any answer may take on a spoilt file.
const patience = 20 * time.Second

// outcome is what became of a spoilt file.
type outcome string

const (
	refused outcome = "refused when opened"
	named   outcome = "named by a window, a document or the log"
	found   outcome = "found by check"
	unseen  outcome = "not seen, and nothing lost"
	silent  outcome = "readings missing without a word"
)

// examine opens a spoilt file and reads all of it. A wrong or invented value
// fails the test, as does a panic or waiting too long.
func (x sample) examine(t *testing.T, file []byte, what string) outcome {
	t.Helper()
	path := filepath.Join(quickDir(t), "lentic.db")
	defer os.RemoveAll(filepath.Dir(path))
	if err := os.WriteFile(path, file, 0o600); err != nil {
		t.Fatal(err)
	}
	done := make(chan outcome, 1)
	go func() { done <- x.read(t, path, what) }()
	select {
	case o := <-done:
		return o
	case <-time.After(patience):
		t.Fatalf("%s: no answer within %s", what, patience)
	}
	return ""
}

func (x sample) read(t *testing.T, path, what string) outcome {
	defer func() {
		if p := recover(); p != nil {
			t.Errorf("%s: panic: %v", what, p)
		}
	}()
	s, err := store.Open(path, store.Options{ReadOnly: true})
	if err != nil {
		if !errors.Is(err, store.ErrDamaged) && !errors.Is(err, store.ErrNotOurs) && !errors.Is(err, store.ErrNewerFormat) {
			t.Errorf("%s: open: %v: neither damaged nor foreign", what, err)
		}
		return refused
	}
	defer s.Close()
	missing, told := 0, false
	for k, want := range x.want {
		seen := 0
		err := s.Window(k, 0, base*2, func(r aquarium.Reading) bool {
			if w, ok := want[r.At]; !ok || !reflect.DeepEqual(w, r) {
				t.Errorf("%s: got %v, want %v", what, r, w)
			}
			seen++
			return true
		})
		if err != nil && !errors.Is(err, store.ErrDamaged) {
			t.Errorf("%s: window: %v", what, err)
		}
		told = told || err != nil
		missing += len(want) - seen
	}
	for _, shelf := range []string{"marks", "alarms"} {
		err := s.View(func(tx ledger.Tx) error { return tx.Each(shelf, "", "", func(string, []byte) bool { return true }) })
		told = told || err != nil
	}
	check := s.Check()
	switch {
	case told:
		return named
	case check != nil:
		if !errors.Is(check, store.ErrDamaged) {
			t.Errorf("%s: check: %v", what, check)
		}
		return found
	case missing > 0:
		return silent
	}
	return unseen
}

// TestFlippedBits flips one bit anywhere in the file, many times over: a value
// is never wrong, an answer always comes, and what is missing is told.
func TestFlippedBits(t *testing.T) {
	x := newSample(t)
	rnd := rand.New(rand.NewPCG(9, 9))
	counts := map[outcome]int{}
	n := scaled(300, 10_000)
	for i := range n {
		file := append([]byte(nil), x.file...)
		at := rnd.IntN(len(file) * 8)
		file[at/8] ^= 1 << (at % 8)
		counts[x.examine(t, file, fmt.Sprintf("case %d, bit %d", i, at))]++
		if t.Failed() {
			return
		}
	}
	t.Logf("%d bits in a file of %d KiB: %v", n, len(x.file)>>10, counts)
	if counts[silent] > 0 {
		t.Errorf("%d of %d times readings were missing without a word", counts[silent], n)
	}
}

// TestCutOff cuts the file at every byte of its last 64 KiB, or some of them.
func TestCutOff(t *testing.T) {
	x := newSample(t)
	counts := map[outcome]int{}
	n := scaled(100, 64<<10)
	for i := range n {
		cut := 1 + i*(64<<10)/n
		counts[x.examine(t, x.file[:len(x.file)-cut], fmt.Sprintf("cut off the last %d bytes", cut))]++
		if t.Failed() {
			return
		}
	}
	t.Logf("%d lengths: %v", n, counts)
	if counts[silent] > 0 {
		t.Errorf("%d of %d times readings were missing without a word", counts[silent], n)
	}
}
