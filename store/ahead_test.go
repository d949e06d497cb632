package store

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// pagesRead notes which pages are read.
type pagesRead struct {
	io.ReaderAt
	size int64
	ids  map[uint64]bool
}

func (r *pagesRead) ReadAt(b []byte, at int64) (int, error) {
	r.ids[uint64(at/r.size)] = true
	return r.ReaderAt.ReadAt(b, at)
}

// manyPages makes a file of some thousands of pages: forty days of sixty tanks in
// blocks, and one in the log.
func manyPages(t *testing.T) (path string) {
	path = filepath.Join(t.TempDir(), "lentic.db")
	s, err := Open(path, Options{Reserve: -1})
	if err != nil {
		t.Fatal(err)
	}
	base := aquarium.Instant(1_700_000_000_000)
	day := func(n int) (b aquarium.Batch) {
		for i := range 48 * 60 {
			k := aquarium.SensorKey{Site: "quillmere", Tank: aquarium.TankID(fmt.Sprint("tank", i%60)), Sensor: "ph"}
			at := base.Add(time.Duration(n)*24*time.Hour + time.Duration(i)*30*time.Second)
			b.Readings = append(b.Readings, aquarium.Reading{Sensor: k, At: at, Value: float64(i*i%977) / 7, Unit: "pH"})
		}
		return b
	}
	err = s.Bulk(func(add func(aquarium.Batch) error) error {
		for n := range 40 {
			if err := add(day(n)); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Append(day(40), nil); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestForeseen looks through a file: what that reads must have been told of, and
// little else.
func TestForeseen(t *testing.T) {
	path := manyPages(t)
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	m, err := readMetaPages(f)
	if err != nil {
		t.Fatal(err)
	}
	look := func(do func(p *pages) error) (read, told map[uint64]bool) {
		p, err := newPages(f, m, skeleton)
		if err != nil {
			t.Fatal(err)
		}
		r := &pagesRead{f, p.size, map[uint64]bool{}}
		told = map[uint64]bool{}
		p.r = r
		p.ahead = func(from, n int64) {
			for at := from; at < from+n; at += p.size {
				told[uint64(at/p.size)] = true
			}
		}
		if err := do(p); err != nil {
			t.Fatal(err)
		}
		return r.ids, told
	}
	read, _ := look(func(p *pages) error { return p.bucket(source{}, m.root) })
	ahead, told := look(func(p *pages) error { p.foresee(m.root); return nil })
	var missed []uint64
	for id := range read {
		if !told[id] {
			missed = append(missed, id)
		}
	}
	slices.Sort(missed)
	t.Logf("of %d pages %d are read, and %d told of", m.high, len(read), len(told))
	if len(missed) > 0 || len(read) < 10 {
		t.Errorf("told of %d pages, but not of %v of the %d that are read", len(told), missed, len(read))
	}
	for id := range ahead {
		if !told[id] {
			t.Errorf("page %d is read before it is told of", id)
		}
	}
}

// TestForeseenValues holds the pages that are told of for the sums of a tank
// against where these lie.
func TestForeseenValues(t *testing.T) {
	s, err := Open(manyPages(t), Options{Reserve: -1, ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	f, err := os.Open(s.path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	const group = 17
	err = s.read(func(tx *bbolt.Tx) error {
		b, size := tx.Bucket(rollupsBucket), int64(os.Getpagesize())
		var keys [][]byte
		var lie []uint64
		c := b.Cursor()
		for k, v := c.First(); k != nil; k, v = c.Next() {
			if _, of, err := record.SplitBlockKey(k[1:]); err == nil && of == group {
				keys, lie = append(keys, slices.Clone(k)), append(lie, uint64(offsetOf(tx, v)/size))
			}
		}
		p := pages{r: f, size: size, end: uint64(tx.Size() / size)}
		ids := p.leavesOf(uint64(b.Root()), keys)
		for i, id := range lie {
			if !slices.Contains(ids, id) {
				t.Errorf("key %x lies on page %d, which is not among %v", keys[i], id, ids)
			}
		}
		if len(keys) < 30 || len(ids) > aheadPages*len(keys) {
			t.Errorf("%d pages for %d keys", len(ids), len(keys))
		}
		s.foreseeValues(rollupsBucket, keys)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// TestForeseenInRings has branches that lead to one another only: to foresee must
// come to an end.
func TestForeseenInRings(t *testing.T) {
	const size, n, kids = 4096, 8, 3
	ring := make([]byte, n*size)
	for id := range n {
		b := ring[id*size:]
		binary.NativeEndian.PutUint64(b, uint64(id))
		binary.NativeEndian.PutUint16(b[8:], branchPage)
		binary.NativeEndian.PutUint16(b[10:], kids)
		for i := range kids {
			e := b[pageHeader+i*elementLen:]
			binary.NativeEndian.PutUint32(e, uint32((kids-i)*elementLen))
			binary.NativeEndian.PutUint64(e[8:], uint64(2+(id+i)%(n-2)))
		}
	}
	told := 0
	p := &pages{r: bytes.NewReader(ring), size: size, end: n, ahead: func(from, length int64) { told += int(length) / size }}
	p.foresee(2)
	if told != n-2 {
		t.Errorf("told of %d pages, want %d, each once", told, n-2)
	}
}
