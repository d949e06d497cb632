package store

import (
	"bytes"
	"errors"
	"fmt"
	"math/bits"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
)

// journal is a shelf of many documents under a branch, and marks one of few,
// which lies in the ledger's own page.
var (
	journal = source{string(ledgerBucket), "journal"}
	marks   = source{string(ledgerBucket), "marks"}
)

func touched(t *testing.T) *Store {
	t.Helper()
	s, err := Open(filepath.Join(t.TempDir(), "lentic.db"), Options{Reserve: -1})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	err = s.Update(func(tx ledger.Tx) error {
		err := tx.Put(marks.shelf, "a", "few")
		for n := range 400 {
			err = errors.Join(err, tx.Put(journal.shelf, fmt.Sprintf("k%04d", 2*n), strings.Repeat("a", 100)))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// paths gives fn the pages from a bucket's root to the leaf of a key, and the
// pages of the file.
func (s *Store) paths(t *testing.T, at source, key string, fn func(m *mapped, path []sheet)) {
	t.Helper()
	err := s.read(func(tx *bbolt.Tx) error {
		m := mappedBy(tx)
		p, err := m.page(m.root, nil)
		for _, name := range []string{at.bucket, at.shelf} {
			if name != "" {
				if p, err = m.way(p, []byte(name), false); err != nil {
					return err
				}
				p, err = m.rootOf(p.entry(p.search([]byte(name))).value, p.id)
			}
		}
		path := []sheet{p}
		for p.flags == branchPage {
			if p, err = m.below(p, p.toward([]byte(key))); err != nil {
				return err
			}
			path = append(path, p)
		}
		fn(&m, path)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// TestBentPages bends a page under an open store and writes next to it. That must
// be damage, change nothing, and pass once the page is as it was. bbolt itself
// would free 2^28 pages, or those of others, copy half a gigabyte, or lose keys.
func TestBentPages(t *testing.T) {
	s := touched(t)
	const key = "k0400"
	write := func(key string) func(ledger.Tx) error {
		return func(tx ledger.Tx) error { return tx.Put(journal.shelf, key, "b") }
	}
	erase := func(tx ledger.Tx) error { return tx.Delete(journal.shelf, key) }
	// entry is where, in a page, an entry of the list begins.
	entry := func(i int) int { return pageHeader + i*elementLen }
	bent := []struct {
		name string
		fn   func(tx ledger.Tx) error
		// at is where the bytes lie, in the file, and by what they change.
		at func(m *mapped, branch, leaf sheet) (page uint64, offset int, by []byte)
	}{
		{"a leaf that says it is another page", write(key), func(_ *mapped, _, leaf sheet) (uint64, int, []byte) { return leaf.id, 0, []byte{2} }},
		{"a leaf that is nothing", write(key), func(_ *mapped, _, leaf sheet) (uint64, int, []byte) { return leaf.id, 8, []byte{0x20} }},
		{"a leaf that says it is a branch", write(key), func(_ *mapped, _, leaf sheet) (uint64, int, []byte) { return leaf.id, 8, []byte{3} }},
		{"a leaf of fewer entries", write(key), func(_ *mapped, _, leaf sheet) (uint64, int, []byte) {
			return leaf.id, 10, []byte{1 << bits.TrailingZeros(uint(leaf.count))}
		}},
		{"a leaf of more entries", write(key), func(_ *mapped, _, leaf sheet) (uint64, int, []byte) {
			return leaf.id, 10, []byte{1 << bits.TrailingZeros(^uint(leaf.count))}
		}},
		{"a leaf of a great many entries", write(key), func(_ *mapped, _, leaf sheet) (uint64, int, []byte) { return leaf.id, 11, []byte{0x80} }},
		{"a leaf that runs on beyond the end", write(key), func(_ *mapped, _, leaf sheet) (uint64, int, []byte) { return leaf.id, 15, []byte{0x10} }},
		{"a leaf that runs on over another", write(key), func(_ *mapped, _, leaf sheet) (uint64, int, []byte) { return leaf.id, 12, []byte{1} }},
		{"a key that is very long", write(key), func(_ *mapped, _, leaf sheet) (uint64, int, []byte) { return leaf.id, entry(3) + 11, []byte{0x20} }},
		{"a key that is a little longer", write(key), func(_ *mapped, _, leaf sheet) (uint64, int, []byte) { return leaf.id, entry(3) + 8, []byte{8} }},
		{"a value that is very long", write(key), func(_ *mapped, _, leaf sheet) (uint64, int, []byte) { return leaf.id, entry(3) + 15, []byte{0x20} }},
		{"a value that is shorter", write(key), func(_ *mapped, _, leaf sheet) (uint64, int, []byte) { return leaf.id, entry(3) + 12, []byte{64} }},
		{"an entry that lies elsewhere", write(key), func(_ *mapped, _, leaf sheet) (uint64, int, []byte) { return leaf.id, entry(3) + 4, []byte{16} }},
		{"the first key of a leaf", write(key), func(_ *mapped, _, leaf sheet) (uint64, int, []byte) {
			e := leaf.entry(0)
			return leaf.id, e.offset - 1, []byte{1}
		}},
		{"a key of a leaf, out of order", write(key), func(_ *mapped, _, leaf sheet) (uint64, int, []byte) {
			e := leaf.entry(3)
			return leaf.id, e.offset - len(e.key), []byte{0x10}
		}},
		{"a leaf's key in the branch", write(key), func(_ *mapped, branch, _ sheet) (uint64, int, []byte) {
			e := branch.entry(branch.toward([]byte(key)))
			return branch.id, e.offset - 1, []byte{1}
		}},
		{"a branch that leads to another leaf", write(key), func(_ *mapped, branch, _ sheet) (uint64, int, []byte) {
			i := branch.toward([]byte(key))
			return branch.id, entry(i) + 8, []byte{byte(branch.entry(i).child ^ branch.entry(i+1).child)}
		}},
		{"a branch that leads out of the file", write(key), func(_ *mapped, branch, _ sheet) (uint64, int, []byte) {
			return branch.id, entry(branch.toward([]byte(key))) + 12, []byte{1}
		}},
		{"a branch that runs on beyond the end", write(key), func(_ *mapped, branch, _ sheet) (uint64, int, []byte) { return branch.id, 15, []byte{0x10} }},
		{"the leaf before, when something is deleted", erase, func(_ *mapped, branch, _ sheet) (uint64, int, []byte) {
			return branch.entry(branch.toward([]byte(key)) - 1).child, 15, []byte{0x10}
		}},
		{"the leaf after, when something is deleted", erase, func(_ *mapped, branch, _ sheet) (uint64, int, []byte) {
			return branch.entry(branch.toward([]byte(key)) + 1).child, 15, []byte{0x10}
		}},
		{"a small bucket that names a place", func(tx ledger.Tx) error { return tx.Put(marks.shelf, "b", strings.Repeat("b", 3000)) },
			func(_ *mapped, _, leaf sheet) (uint64, int, []byte) {
				var page uint64
				var offset int
				s.paths(t, marks, "a", func(m *mapped, path []sheet) {
					page = path[0].id
					offset = bytes.Index(m.bytes(page, 1), path[0].b)
				})
				return page, offset, []byte{byte(leaf.id)}
			}},
		{"the list of free pages, beyond the end", write(key), func(m *mapped, _, _ sheet) (uint64, int, []byte) {
			list, _ := m.listed()
			return list, 15, []byte{0x10}
		}},
		{"the list of free pages, over others", write(key), func(m *mapped, _, _ sheet) (uint64, int, []byte) {
			list, _ := m.listed()
			return list, 12, []byte{1}
		}},
	}
	for _, b := range bent {
		t.Run(b.name, func(t *testing.T) {
			s.bend(t, key, b.at, func() {
				before, _ := os.ReadFile(s.path)
				err := s.Update(b.fn)
				var d *Damage
				if !errors.As(err, &d) {
					t.Errorf("got %v, want a Damage", err)
				}
				if after, _ := os.ReadFile(s.path); !bytes.Equal(before, after) {
					t.Error("the file has changed")
				}
			})
			if err := s.Update(func(tx ledger.Tx) error { return tx.Put(journal.shelf, "k0401", b.name) }); err != nil {
				t.Errorf("unbent: %v", err)
			}
		})
	}
	f, err := s.Inspect(t.Context(), nil)
	if err := errors.Join(err, f.Err()); err != nil {
		t.Error(err)
	}
}

// TestBentRest: a bit behind the last entry of a page costs nothing, and keeps
// nobody from writing.
func TestBentRest(t *testing.T) {
	s := touched(t)
	rest := func(_ *mapped, _, leaf sheet) (uint64, int, []byte) { return leaf.id, len(leaf.b) - 1, []byte{1} }
	s.bend(t, "k0400", rest, func() {
		if err := s.Update(func(tx ledger.Tx) error { return tx.Put(journal.shelf, "k0400", "b") }); err != nil {
			t.Error(err)
		}
	})
}

// bend bends bytes on the way to a key of the journal while fn runs.
func (s *Store) bend(t *testing.T, key string, at func(m *mapped, branch, leaf sheet) (uint64, int, []byte), fn func()) {
	t.Helper()
	var page uint64
	var offset int
	var by []byte
	s.paths(t, journal, key, func(m *mapped, path []sheet) {
		if len(path) != 2 || path[1].count < 8 {
			t.Fatalf("%d levels of pages, the last of %d entries: want a branch and a leaf of some", len(path), path[len(path)-1].count)
		}
		page, offset, by = at(m, path[0], path[1])
	})
	s.flip(t, page, offset, by)
	defer s.flip(t, page, offset, by)
	fn()
}

func (s *Store) flip(t *testing.T, page uint64, offset int, by []byte) {
	t.Helper()
	f, err := os.OpenFile(s.path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	at := int64(page)*int64(s.db.Info().PageSize) + int64(offset)
	b := make([]byte, len(by))
	if _, err := f.ReadAt(b, at); err != nil {
		t.Fatal(err)
	}
	for i := range b {
		b[i] ^= by[i]
	}
	if _, err := f.WriteAt(b, at); err != nil {
		t.Fatal(err)
	}
}

// TestBentLog: readings are taken where the log's old end is damaged, and refused
// where its new one is.
func TestBentLog(t *testing.T) {
	s := touched(t)
	n := 0
	write := func() error {
		var b aquarium.Batch
		for range 600 {
			n++
			k := aquarium.SensorKey{Site: "quillmere-library", Tank: "atrium", Sensor: "ph"}
			b.Readings = append(b.Readings, aquarium.Reading{Sensor: k, At: aquarium.At(time.Date(2031, 3, 2, 0, 0, n, 0, time.UTC)), Value: float64(n*n%977) / 7, Unit: "pH"})
		}
		_, err := s.Append(b, nil)
		return err
	}
	for range 20 {
		if err := write(); err != nil {
			t.Fatal(err)
		}
	}
	end := func(key string) (page uint64) {
		s.paths(t, source{bucket: string(logBucket)}, key, func(_ *mapped, path []sheet) { page = path[len(path)-1].id })
		return page
	}
	first := end("")
	beyond := []byte{0x10}
	s.flip(t, first, 15, beyond)
	// As if all of it could go.
	s.log.needed, s.log.owed, s.log.forgets = ^uint64(0), 1<<20, true
	if err := write(); err != nil {
		t.Errorf("with a damaged old end: %v", err)
	}
	if !s.log.stuck {
		t.Error("nothing was to be deleted of the old end: the test asks nothing")
	}
	s.flip(t, first, 15, beyond)
	last := end("\xff")
	if first == last {
		t.Fatal("the log has one page: the test asks nothing")
	}
	s.flip(t, last, 15, beyond)
	if err := write(); !errors.Is(err, ErrDamaged) {
		t.Errorf("with a damaged new end: got %v, want ErrDamaged", err)
	}
	s.flip(t, last, 15, beyond)
	if err := write(); err != nil {
		t.Errorf("unbent: %v", err)
	}
}

// TestHiddenBlock: readings that a bent page hides are not just fewer, but told.
func TestHiddenBlock(t *testing.T) {
	s := touched(t)
	k := aquarium.SensorKey{Site: "quillmere-library", Tank: "atrium", Sensor: "ph"}
	base := time.Date(2031, 3, 2, 0, 0, 0, 0, time.UTC)
	var b aquarium.Batch
	for n := range 40 * 12 {
		b.Readings = append(b.Readings, aquarium.Reading{Sensor: k, At: aquarium.At(base.Add(time.Duration(n) * time.Hour)), Value: 1, Unit: "pH"})
	}
	if _, err := s.Append(b, nil); err != nil {
		t.Fatal(err)
	}
	if err := s.Seal(); err != nil {
		t.Fatal(err)
	}
	read := func() (n int, err error) {
		err = s.Window(k, aquarium.At(base), aquarium.At(base.Add(40*12*time.Hour)), func(aquarium.Reading) bool { n++; return true })
		return n, err
	}
	var page uint64
	var by []byte
	s.paths(t, source{bucket: string(blocksBucket)}, "", func(m *mapped, path []sheet) {
		leaf := path[len(path)-1]
		page, by = leaf.id, []byte{byte(leaf.count) ^ 1}
	})
	if by[0] == 0 {
		t.Fatal("one block in a leaf: none can be hidden")
	}
	s.flip(t, page, 10, by)
	n, err := read()
	if n == len(b.Readings) || !errors.Is(err, ErrDamaged) {
		t.Errorf("got %d readings of %d, %v; want fewer, and ErrDamaged", n, len(b.Readings), err)
	}
	s.flip(t, page, 10, by)
	if n, err := read(); n != len(b.Readings) || err != nil {
		t.Errorf("unbent: got %d readings of %d, %v", n, len(b.Readings), err)
	}
}

// BenchmarkTouch looks at what a commit of a few readings takes into memory: its
// limit is what BenchmarkAppend takes for the whole of such a commit.
func BenchmarkTouch(b *testing.B) {
	s, err := Open(filepath.Join(b.TempDir(), "lentic.db"), Options{Reserve: -1})
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	for n := range 100 {
		var batch aquarium.Batch
		for i := range 12 {
			k := aquarium.SensorKey{Site: "quillmere-library", Tank: "atrium", Sensor: aquarium.SensorID(fmt.Sprint("n", i))}
			batch.Readings = append(batch.Readings, aquarium.Reading{Sensor: k, At: aquarium.At(time.Date(2031, 3, 2, 0, 0, n, 0, time.UTC)), Value: float64(n), Unit: "pH"})
		}
		if _, err := s.Append(batch, nil); err != nil {
			b.Fatal(err)
		}
	}
	log, end := source{bucket: string(logBucket)}, []byte("\xff")
	err = s.read(func(tx *bbolt.Tx) error {
		for b.Loop() {
			m := mappedBy(tx)
			if err := errors.Join(m.touch(log, nil, false), m.touch(log, end, false), m.list()); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
}
