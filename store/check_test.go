package store_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store"
	"lentic/store/ledger"
	"lentic/store/record"
)

// fullFile has something in every bucket: two tanks with three sensors each and
// a reading every ten minutes for 60 days, the last two of them in the log only.
func fullFile(t testing.TB) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "lentic.db")
	if fullBytes == nil {
		makeFull(t, path)
		var err error
		if fullBytes, err = os.ReadFile(path); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(path, fullBytes, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// fullBytes is what makeFull made, once: the tests that use it run in turns.
var fullBytes []byte

func makeFull(t testing.TB, path string) {
	t.Helper()
	s, err := store.Open(path, store.Options{Reserve: -1, Now: func() time.Time { return fullEnd.Time() }})
	if err != nil {
		t.Fatal(err)
	}
	fillFull(t, s, base, fullEnd.Add(-48*time.Hour))
	if err := s.Seal(); err != nil {
		t.Fatal(err)
	}
	fillFull(t, s, fullEnd.Add(-48*time.Hour), fullEnd)
	b := aquarium.Batch{Arrived: fullEnd, Readings: []aquarium.Reading{fullReading(0, base)}}
	b.Readings[0].Value++
	b.Aside = []aquarium.Aside{{Reading: fullReading(0, 86_400_000), Gateway: "gw1", Arrived: fullEnd}}
	b.Unclaimed = []aquarium.Unclaimed{{Topic: "lentic/quillmere-library/atrium/orp", Payload: []byte("312"), Arrived: fullEnd}}
	b.Refused = []aquarium.Refusal{{Topic: "lentic/quillmere-library/atrium/n0", Reason: aquarium.ReasonValue, Arrived: fullEnd}}
	if _, err := s.Append(b, nil); err != nil {
		t.Fatal(err)
	}
	err = s.Update(func(tx ledger.Tx) error {
		for i := range 300 {
			if err := tx.Put("journal", fmt.Sprintf("%04d", i), strings.Repeat("visit ", 10)); err != nil {
				return err
			}
		}
		return tx.Put("alarms", "a", "first")
	})
	if err = errors.Join(err, s.Close()); err != nil {
		t.Fatal(err)
	}
}

var fullEnd = base.Add(60 * 24 * time.Hour)

func fullKey(n int) aquarium.SensorKey {
	return aquarium.SensorKey{Site: "quillmere-library", Tank: aquarium.TankID([]string{"atrium", "foyer"}[n/3]), Sensor: aquarium.SensorID(fmt.Sprintf("n%d", n%3))}
}

func fullReading(n int, at aquarium.Instant) aquarium.Reading {
	return aquarium.Reading{Sensor: fullKey(n), At: at, Value: float64(int64(at)/600_000%977) / 100, Unit: "mm"}
}

func fillFull(t testing.TB, s *store.Store, from, to aquarium.Instant) {
	t.Helper()
	var b aquarium.Batch
	for at := from; at < to; at = at.Add(10 * time.Minute) {
		for n := range 6 {
			b.Readings = append(b.Readings, fullReading(n, at))
		}
	}
	if _, err := s.Append(b, nil); err != nil {
		t.Fatal(err)
	}
}

// countFull counts the readings that are there, every one of which must be as
// it was given.
func countFull(t testing.TB, s *store.Store) (n int) {
	t.Helper()
	for i := range 6 {
		_ = s.Window(fullKey(i), base.Add(-1000*24*time.Hour), fullEnd.Add(1000*24*time.Hour), func(r aquarium.Reading) bool {
			if want := fullReading(i, r.At); r != want {
				t.Errorf("got %+v, want %+v", r, want)
				return false
			}
			n++
			return true
		})
	}
	return n
}

const fullCount = 6 * 60 * 144

func checkFile(t testing.TB, path string) store.Findings {
	t.Helper()
	f, err := store.CheckFile(context.Background(), path, nil)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestCheckFile(t *testing.T) {
	path := fullFile(t)
	f := checkFile(t, path)
	if f.Err() != nil || f.Blocks == 0 || f.Sums == 0 || f.Documents != 301 || f.Readings != fullCount-6*288 {
		t.Errorf("got %s, %v", f.Read(), f.Err())
	}
	s := open(t, path)
	live, err := s.Inspect(context.Background(), nil)
	if err != nil || live.Err() != nil || live.Read() != f.Read() {
		t.Errorf("at work: %s, %v, %v; want %s", live.Read(), err, live.Err(), f.Read())
	}
	if _, err := store.CheckFile(context.Background(), path, nil); !errors.Is(err, store.ErrLocked) {
		t.Errorf("beside a writer: %v", err)
	}
	other := filepath.Join(t.TempDir(), "other")
	if err := os.WriteFile(other, bytes.Repeat([]byte("text "), 10000), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := store.CheckFile(context.Background(), other, nil); !errors.Is(err, store.ErrNotOurs) {
		t.Errorf("a foreign file: %v", err)
	}
	if _, err := store.CheckFile(context.Background(), filepath.Join(fixtures, "format1.db"), nil); err == nil || !strings.Contains(err.Error(), "older lentic") {
		t.Errorf("an older file: %v", err)
	}
}

// TestCheckNames: of a damaged column the bucket, the key, the offset, the
// sensor and the time are named, offline and at work.
func TestCheckNames(t *testing.T) {
	path := fullFile(t)
	var key []byte
	spoil(t, path, func(tx *bolt.Tx) {
		b := tx.Bucket([]byte("blocks"))
		k, v := b.Cursor().First()
		key = bytes.Clone(k)
		v = bytes.Clone(v)
		v[len(v)-6] ^= 1 // in the values of the last column
		if err := b.Put(key, v); err != nil {
			t.Fatal(err)
		}
	})
	start, _, _ := record.SplitBlockKey(key)
	check := func(when string, f store.Findings) {
		t.Helper()
		if f.Damaged != 1 || len(f.Damage) != 1 {
			t.Fatalf("%s: got %v", when, f.Err())
		}
		d := f.Damage[0]
		if d.File != path || d.Bucket != "blocks" || !bytes.Equal(d.Key, key) || d.Sensor.Sensor != "n2" || d.From != start || d.To != start.Add(12*time.Hour) {
			t.Errorf("%s: got %+v", when, d)
		}
		file, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if d.Offset == 0 || file[d.Offset] != 2 { // where a block begins
			t.Errorf("%s: offset %d is not where the block lies", when, d.Offset)
		}
	}
	check("offline", checkFile(t, path))
	s := open(t, path)
	f, err := s.Inspect(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	check("at work", f)
	_, err = collect(s, fullKey(2), base, fullEnd)
	_, err2 := collect(s, fullKey(5), base, fullEnd)
	if errors.Join(err, err2) == nil || !strings.Contains(errors.Join(err, err2).Error(), "offset ") {
		t.Errorf("a reader is told %v, want the offset in it", errors.Join(err, err2))
	}
}

// TestSalvage ruins one page after the other. Whatever page it is, the check
// ends and finds it, and what is salvaged is whole, true, and all that did not
// lie in that page itself.
func TestSalvage(t *testing.T) {
	path := fullFile(t)
	free := freePages(t, path)
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	const size = 4096
	dir := t.TempDir()
	for _, ruin := range []struct {
		name  string
		every int // of the leaves; of branches each
		how   func(page []byte)
	}{
		{"zeroed", 5, func(p []byte) { clear(p) }},
		{"its list of entries noise", 4, func(p []byte) {
			r := rand.New(rand.NewPCG(1, 2))
			for i := 16; i < 48; i++ {
				p[i] = byte(r.Uint32())
			}
		}},
		{"fewer entries", 3, func(p []byte) { p[10]-- }},
	} {
		t.Run(ruin.name, func(t *testing.T) {
			branches := 0
			for id := 2; id < len(whole)/size; id++ {
				if free[id] || binary.NativeEndian.Uint64(whole[id*size:]) != uint64(id) {
					continue // nothing, or the middle of something
				}
				file := bytes.Clone(whole)
				page := file[id*size : (id+1)*size]
				flags := binary.NativeEndian.Uint16(page[8:])
				if flags == 2 && id%ruin.every != 0 {
					continue
				}
				ruin.how(page)
				bad := filepath.Join(dir, "bad.db")
				if err := os.WriteFile(bad, file, 0o600); err != nil {
					t.Fatal(err)
				}
				saved := filepath.Join(dir, fmt.Sprintf("saved-%d.db", id))
				found, kept, err := store.Salvage(context.Background(), bad, saved, store.Options{}, nil)
				if err != nil {
					t.Fatalf("page %d: %v", id, err)
				}
				if found.Damaged == 0 && flags != 0x10 {
					t.Errorf("page %d (of kind %#x): nothing found", id, flags)
				}
				if kept.Damaged > 0 {
					t.Errorf("page %d: what was salvaged is damaged: %v", id, kept.Err())
				}
				n := countSaved(t, saved)
				if flags == 1 { // a branch: all that hangs on it is there
					branches++
					if n != fullCount {
						t.Errorf("page %d, a branch: %d readings of %d", id, n, fullCount)
					}
				}
				// A block is a page or two, the log some more.
				if n < fullCount*2/3 {
					t.Errorf("page %d (of kind %#x): %d readings of %d are left", id, flags, n, fullCount)
				}
				os.Remove(saved)
			}
			if branches == 0 {
				t.Error("no branch page was ruined")
			}
		})
	}
	if _, _, err := store.Salvage(context.Background(), path, path, store.Options{}, nil); !errors.Is(err, fs.ErrExist) {
		t.Errorf("over a file: %v", err)
	}
}

// countSaved counts true readings in a file in which names may be lost.
func countSaved(t *testing.T, path string) (n int) {
	t.Helper()
	s, err := store.Open(path, store.Options{Reserve: -1})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for _, k := range s.Sensors() {
		_ = s.Window(k, base.Add(-24*time.Hour), fullEnd.Add(24*time.Hour), func(r aquarium.Reading) bool {
			if want := fullReading(0, r.At); r.Value != want.Value || r.Unit != want.Unit {
				t.Errorf("got %+v, want %+v", r, want)
				return false
			}
			n++
			return true
		})
	}
	return n
}

func freePages(t *testing.T, path string) map[int]bool {
	t.Helper()
	free := map[int]bool{}
	spoil(t, path, func(tx *bolt.Tx) {}) // so that the list is of now
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	db, err := bolt.Open(path, 0o600, &bolt.Options{ReadOnly: true, PreLoadFreelist: true})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	err = db.View(func(tx *bolt.Tx) error {
		for id := 2; id < len(whole)/4096; id++ {
			if info, err := tx.Page(id); err != nil || info == nil || info.Type == "free" {
				free[id] = true
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return free
}

// TestFlipsFound flips bits anywhere. A check ends, and where it finds nothing
// nothing is missing and nothing is wrong.
func TestFlipsFound(t *testing.T) {
	path := fullFile(t)
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	rnd := rand.New(rand.NewPCG(9, 10))
	p := filepath.Join(t.TempDir(), "flipped.db")
	found, none, refused := 0, 0, 0
	for range flips {
		file := bytes.Clone(whole)
		at, bit := rnd.IntN(len(file)), rnd.IntN(8)
		file[at] ^= 1 << bit
		if err := os.WriteFile(p, file, 0o600); err != nil {
			t.Fatal(err)
		}
		f, err := store.CheckFile(context.Background(), p, nil)
		switch {
		case err != nil:
			refused++
			continue
		case f.Damaged > 0:
			found++
			continue
		}
		none++
		s, err := store.Open(p, store.Options{Reserve: -1})
		if err != nil {
			t.Errorf("byte %d, bit %d: nothing found, and it does not open: %v", at, bit, err)
			continue
		}
		if n := countFull(t, s); n != fullCount {
			t.Errorf("byte %d, bit %d: nothing found, and %d readings of %d are there", at, bit, n, fullCount)
		}
		s.Close()
	}
	t.Logf("%d bits: %d found, %d files refused whole, %d without effect", flips, found, refused, none)
}

const flips = 100
