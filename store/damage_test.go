package store_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
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

// damagedFile has 1000 readings of two sensors each, one a minute, and a column
// of the first sensor's spoilt; it also gives when its block begins and ends.
func damagedFile(t *testing.T) (path string, from, to aquarium.Instant) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "lentic.db")
	s := open(t, path)
	var b aquarium.Batch
	for i := range 2000 {
		b.Readings = append(b.Readings, aquarium.Reading{Sensor: key(i % 2), At: base.Add(time.Duration(i/2) * time.Minute), Value: float64(i), Unit: "pH"})
	}
	if _, err := s.Append(b, nil); err != nil {
		t.Fatal(err)
	}
	if err := s.Update(func(tx ledger.Tx) error {
		return errors.Join(tx.Put("alarms", "a", "first"), tx.Put("alarms", "b", "second"), tx.Put("alarms", "c", "third"))
	}); err != nil {
		t.Fatal(err)
	}
	if err := s.Seal(); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	spoil(t, path, func(tx *bolt.Tx) {
		blocks := tx.Bucket([]byte("blocks"))
		c := blocks.Cursor()
		for k, v := c.First(); k != nil; k, v = c.Next() {
			start, _, err := record.SplitBlockKey(k)
			if err != nil {
				t.Fatal(err)
			}
			if start <= base {
				continue // the stretch before
			}
			k, v := bytes.Clone(k), bytes.Clone(v)
			b, err := record.OpenBlock(k, v)
			if err != nil {
				t.Fatal(err)
			}
			for _, p := range b.Columns {
				if p.Series == 1 {
					b.Sealed(p)[3] ^= 4
				}
			}
			if err := blocks.Put(k, v); err != nil {
				t.Fatal(err)
			}
			from, to = start, start.Add(12*time.Hour)
			break
		}
		alarms := tx.Bucket([]byte("ledger")).Bucket([]byte("alarms"))
		doc := bytes.Clone(alarms.Get([]byte("b")))
		doc[len(doc)-2] ^= 1
		if err := alarms.Put([]byte("b"), doc); err != nil {
			t.Fatal(err)
		}
	})
	return path, from, to
}

func spoil(t *testing.T, path string, fn func(tx *bolt.Tx)) {
	t.Helper()
	db, err := bolt.Open(path, 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.Update(func(tx *bolt.Tx) error { fn(tx); return nil }); err != nil {
		t.Fatal(err)
	}
}

// collect is all without minding an error.
func collect(s *store.Store, k aquarium.SensorKey, from, to aquarium.Instant) (rs []aquarium.Reading, err error) {
	err = s.Window(k, from, to, func(r aquarium.Reading) bool { rs = append(rs, r); return true })
	return rs, err
}

func TestDamagedBlockCostsItselfOnly(t *testing.T) {
	path, from, to := damagedFile(t)
	s := open(t, path)
	lost := int(min(to, base.Add(1000*time.Minute)).Sub(from) / time.Minute)
	end := base.Add(1000 * time.Minute)
	wantDamage := func(when string, err error) {
		t.Helper()
		var d *store.Damage
		if !errors.As(err, &d) || !errors.Is(err, store.ErrDamaged) {
			t.Fatalf("%s: got %v, want a Damage", when, err)
		}
		if d.File != path || d.Sensor != key(0) || d.From != from || d.To != to {
			t.Errorf("%s: got %+v, want %s of %s from %s to %s", when, d, path, key(0), from, to)
		}
		for _, part := range []string{path, "bucket ", key(0).String(), from.String(), to.String()} {
			if !strings.Contains(err.Error(), part) {
				t.Errorf("%s: %q does not name %q", when, err, part)
			}
		}
	}
	rs, err := collect(s, key(0), base, end)
	wantDamage("whole", err)
	if len(rs) != 1000-lost {
		t.Errorf("got %d readings beside the damaged block, want %d", len(rs), 1000-lost)
	}
	for _, w := range [][2]aquarium.Instant{{base, from}, {to, end}} {
		rs, err := collect(s, key(0), w[0], w[1])
		if want := max(0, int(w[1].Sub(w[0])/time.Minute)); err != nil || len(rs) != want {
			t.Errorf("from %s to %s: got %d readings, %v; want %d", w[0], w[1], len(rs), err, want)
		}
	}
	if rs, err := collect(s, key(1), base, end); err != nil || len(rs) != 1000 {
		t.Errorf("the other sensor: got %d readings, %v", len(rs), err)
	}
	if err := s.Check(); err == nil || strings.Count(err.Error(), "\n") != 1 {
		t.Errorf("check: got %v, want the block and the document", err)
	}

	// A reading for that time is taken, and the rest of it still missing.
	again := aquarium.Reading{Sensor: key(0), At: from.Add(5 * time.Second), Value: 7, Unit: "pH"}
	o, err := s.Append(aquarium.Batch{Readings: []aquarium.Reading{again}}, nil)
	if err != nil || len(o.Fresh) != 1 {
		t.Fatalf("append into the damaged stretch: %+v, %v", o, err)
	}
	if err := s.Seal(); err != nil {
		t.Fatal(err)
	}
	rs, err = collect(s, key(0), base, end)
	wantDamage("after it was put aside", err)
	if len(rs) != 1000-lost+1 {
		t.Errorf("got %d readings after that, want %d", len(rs), 1000-lost+1)
	}
	if err := s.Check(); !errors.Is(err, store.ErrDamaged) {
		t.Errorf("check after that: %v", err)
	}
}

func TestDamagedDocumentCostsItselfOnly(t *testing.T) {
	path, _, _ := damagedFile(t)
	s := open(t, path)
	var got []string
	err := s.View(func(tx ledger.Tx) error {
		var v string
		if _, err := tx.Get("alarms", "b", &v); !errors.Is(err, store.ErrDamaged) || !strings.Contains(err.Error(), `bucket ledger/alarms: key "b"`) {
			t.Errorf("get: got %v, want ErrDamaged naming it", err)
		}
		return tx.Each("alarms", "", "", func(k string, doc []byte) bool { got = append(got, k+string(doc)); return true })
	})
	if !errors.Is(err, store.ErrDamaged) || fmt.Sprint(got) != `[a"first" c"third"]` {
		t.Errorf("each: got %v, %v", got, err)
	}
	// It can be replaced.
	if err := s.Update(func(tx ledger.Tx) error { return tx.Put("alarms", "b", "new") }); err != nil {
		t.Error(err)
	}
}

// TestLostName: the name of a series cannot be read. The file opens, the other
// series are whole, and new readings of that sensor do not mix with old ones.
func TestLostName(t *testing.T) {
	path, _, _ := damagedFile(t)
	spoil(t, path, func(tx *bolt.Tx) {
		b := tx.Bucket([]byte("series"))
		k := []byte{0, 0, 0, 2}
		v := bytes.Clone(b.Get(k))
		v[6] ^= 1
		b.Put(k, v)
	})
	s := open(t, path)
	if got := s.Sensors(); len(got) != 1 || got[0] != key(0) {
		t.Errorf("sensors: got %v", got)
	}
	r := aquarium.Reading{Sensor: key(1), At: base, Value: 5}
	if o, err := s.Append(aquarium.Batch{Readings: []aquarium.Reading{r}}, nil); err != nil || len(o.Fresh) != 1 {
		t.Errorf("append: %+v, %v", o, err)
	}
	if rs := all(t, s, key(1), base, base.Add(24*time.Hour)); len(rs) != 1 || rs[0] != r {
		t.Errorf("got %v", rs)
	}
	if err := s.Check(); !errors.Is(err, store.ErrDamaged) || !strings.Contains(err.Error(), "bucket series") {
		t.Errorf("check: %v", err)
	}
}

// TestCutShort: whatever a file is cut to, there is an error and no hang.
func TestCutShort(t *testing.T) {
	path, _, _ := damagedFile(t)
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	short := filepath.Join(t.TempDir(), "lentic.db")
	for n := 1; n < len(whole); n += 997 {
		if err := os.WriteFile(short, whole[:n], 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := store.Open(short, store.Options{Reserve: -1})
		if err == nil {
			// What was cut off may have been empty.
			if rs, err := collect(s, key(1), base, base.Add(24*time.Hour)); len(rs) != 1000 || err != nil {
				t.Errorf("cut to %d bytes: opens with %d readings, %v", n, len(rs), err)
			}
			s.Close()
			continue
		}
		if !errors.Is(err, store.ErrDamaged) && !errors.Is(err, store.ErrNotOurs) {
			t.Errorf("cut to %d bytes: got %v", n, err)
		}
	}
}

// TestCutWhileOpen: the file loses its end under the daemon. Reading beyond is
// an error and not the end of the process.
func TestCutWhileOpen(t *testing.T) {
	path, _, _ := damagedFile(t)
	s := open(t, path)
	if err := os.Truncate(path, 3*4096); err != nil {
		t.Fatal(err)
	}
	if _, err := collect(s, key(1), base, base.Add(24*time.Hour)); !errors.Is(err, store.ErrDamaged) {
		t.Errorf("window: got %v, want ErrDamaged", err)
	}
	if _, err := s.Append(killedBatch(0), nil); !errors.Is(err, store.ErrDamaged) && !errors.Is(err, store.ErrDisk) {
		t.Errorf("append: got %v, want ErrDamaged or ErrDisk", err)
	}
	if err := s.Check(); err == nil {
		t.Error("check finds nothing")
	}
}

// TestPointerUpwards bends a branch page's pointer to the page itself, which
// bbolt would follow until its stack is used up.
func TestPointerUpwards(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lentic.db")
	s := open(t, path)
	for n := range 40 {
		var b aquarium.Batch
		for i := range 2000 {
			b.Readings = append(b.Readings, aquarium.Reading{Sensor: key(n), At: base.Add(time.Duration(i) * time.Second), Value: 1})
		}
		if _, err := s.Append(b, nil); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	bent := 0
	for id := 2; id < len(file)/4096; id++ {
		page := file[id*4096 : (id+1)*4096]
		if binary.NativeEndian.Uint16(page[8:]) == 1 {
			binary.NativeEndian.PutUint64(page[16+8:], uint64(id))
			bent++
		}
	}
	if bent == 0 {
		t.Fatal("no branch page to bend")
	}
	if err := os.WriteFile(path, file, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Open(path, store.Options{}); !errors.Is(err, store.ErrDamaged) {
		t.Errorf("got %v, want ErrDamaged", err)
	}
}

// TestMetaPages: one spoilt meta page is made up for by the other, two are not.
func TestMetaPages(t *testing.T) {
	path, _, _ := damagedFile(t)
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	file[16+40] ^= 1
	var spoilt error
	write := func() error {
		p := filepath.Join(t.TempDir(), "lentic.db")
		if err := os.WriteFile(p, file, 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := store.Open(p, store.Options{Reserve: -1})
		if err == nil {
			spoilt = s.Check()
			s.Close()
			if f := checkFile(t, p); !strings.Contains(f.Err().Error(), "meta page 0") {
				t.Errorf("the check of the file: %v", f.Err())
			}
		}
		return err
	}
	if err := write(); err != nil || !errors.Is(spoilt, store.ErrDamaged) || !strings.Contains(spoilt.Error(), "meta page 0") {
		t.Errorf("one: %v, %v", err, spoilt)
	}
	file[4096+16+40] ^= 1
	if err := write(); !errors.Is(err, store.ErrDamaged) {
		t.Errorf("both: got %v, want ErrDamaged", err)
	}
}

// TestFreeListBesideLongPages: documents and blocks that run on over several
// pages, freed and written anew, are not taken for damage.
func TestFreeListBesideLongPages(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lentic.db")
	for round := range 12 {
		s, err := store.Open(path, store.Options{Reserve: -1})
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		for n := range 5 {
			if err := s.Update(func(tx ledger.Tx) error {
				return errors.Join(tx.Put("journal", fmt.Sprint(round*n%17), strings.Repeat("a", 3000+round*n*999%40_000)), tx.Delete("journal", fmt.Sprint(n)))
			}); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := s.Append(killedBatch(round), nil); err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(s.Seal(), s.Close()); err != nil {
			t.Fatal(err)
		}
		if f, err := store.CheckFile(context.Background(), path, nil); err != nil || f.Err() != nil {
			t.Fatalf("round %d: %v, %v", round, err, f.Err())
		}
	}
}

// TestFreeListBent: the list of free pages names one that is in use, which the
// next commit would write over. Nobody may write to such a file; whoever reads
// it may.
func TestFreeListBent(t *testing.T) {
	path, _, _ := damagedFile(t)
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	bent := 0
	for id := 2; id < len(file)/4096; id++ {
		page := file[id*4096 : (id+1)*4096]
		if binary.NativeEndian.Uint16(page[8:]) != 0x10 || binary.NativeEndian.Uint16(page[10:]) == 0 {
			continue
		}
		root := binary.NativeEndian.Uint64(file[16+16:])
		binary.NativeEndian.PutUint64(page[16:], root)
		bent++
	}
	if bent == 0 {
		t.Fatal("no list of free pages to bend")
	}
	if err := os.WriteFile(path, file, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Open(path, store.Options{Reserve: -1}); !errors.Is(err, store.ErrDamaged) || !strings.Contains(err.Error(), "list of free pages") {
		t.Errorf("to write: got %v, want ErrDamaged that names the list of free pages", err)
	}
	s, err := store.Open(path, store.Options{ReadOnly: true})
	if err != nil {
		t.Fatalf("to read: %v", err)
	}
	s.Close()
	f, err := store.CheckFile(context.Background(), path, nil)
	if err != nil || !strings.Contains(fmt.Sprint(f.Err()), "list of free pages") {
		t.Errorf("check: got %v, %v", f.Err(), err)
	}
}

// TestSumsOutliveTheirReadings: when a stretch with a damaged column is sealed
// again, for what came late of it, the column's sums stay. They count what comes
// again once.
func TestSumsOutliveTheirReadings(t *testing.T) {
	path, from, to := damagedFile(t)
	s := open(t, path)
	sums := func(k aquarium.SensorKey) (n int, sum float64) {
		t.Helper()
		if err := s.Sums(k, from, min(to, base.Add(1000*time.Minute)), time.Hour, func(x aquarium.Sum) bool {
			n, sum = n+x.Good, sum+x.Sum
			return true
		}); err != nil && !errors.Is(err, store.ErrDamaged) {
			t.Fatal(err)
		}
		return n, sum
	}
	want, wantSum := sums(key(0))
	if want < 100 {
		t.Fatalf("%d readings are summed up", want)
	}
	for _, x := range []struct {
		name string
		late aquarium.Reading
		more int // readings of the damaged sensor
	}{
		{"another sensor's", aquarium.Reading{Sensor: key(1), At: from.Add(10*time.Minute + time.Second), Value: 1, Unit: "pH"}, 0},
		{"another sensor's, once more", aquarium.Reading{Sensor: key(1), At: from.Add(11*time.Minute + time.Second), Value: 1, Unit: "pH"}, 0},
		{"one of its own that was there", aquarium.Reading{Sensor: key(0), At: from.Floor(10 * time.Minute).Add(20 * time.Minute), Value: 1, Unit: "pH"}, 0},
		{"one of its own where none was", aquarium.Reading{Sensor: key(0), At: base.Add(1005 * time.Minute), Value: 1, Unit: "pH"}, 0},
	} {
		if _, err := s.Append(aquarium.Batch{Readings: []aquarium.Reading{x.late}}, nil); err != nil {
			t.Fatal(err)
		}
		if err := s.Seal(); err != nil {
			t.Fatal(err)
		}
		if got, gotSum := sums(key(0)); got != want+x.more || gotSum != wantSum {
			t.Errorf("%s: got %d readings, %v in all, want %d, %v", x.name, got, gotSum, want+x.more, wantSum)
		}
	}
}
