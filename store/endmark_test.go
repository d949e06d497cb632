package store_test

import (
	"bytes"
	"errors"
	"path/filepath"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store"
)

// TestEndMarks: behind the last block are three marks, wherever blocks are put
// and whichever are forgotten. A damaged one is found, and costs nothing.
func TestEndMarks(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lentic.db")
	now := base.Time()
	var s *store.Store
	open := func() {
		t.Helper()
		var err error
		if s, err = store.Open(path, store.Options{Reserve: -1, Keep: 30 * 24 * time.Hour, Now: func() time.Time { return now }}); err != nil {
			t.Fatal(err)
		}
	}
	seal := func(at aquarium.Instant) {
		t.Helper()
		now = at.Time().Add(time.Hour)
		if _, err := s.Append(aquarium.Batch{Readings: []aquarium.Reading{{Sensor: key(0), At: at, Value: 7, Unit: "pH"}}}, nil); err != nil {
			t.Fatal(err)
		}
		if err := s.Seal(); err != nil {
			t.Fatal(err)
		}
	}
	marks := func() (n int, behind bool) {
		spoil(t, path, func(tx *bolt.Tx) {
			var last []byte
			_ = tx.Bucket([]byte("blocks")).ForEach(func(k, _ []byte) error {
				if len(k) == 12 {
					last, behind = bytes.Clone(k), false
					return nil
				}
				n++
				behind = last != nil && bytes.HasPrefix(k, last)
				return nil
			})
		})
		return n, behind
	}
	for _, x := range []struct {
		name string
		do   func()
		want int
	}{
		{"the first block", func() { seal(base) }, 3},
		{"a later one", func() { seal(base.Add(5 * 24 * time.Hour)) }, 3},
		{"one between", func() { seal(base.Add(2 * 24 * time.Hour)) }, 3},
		{"the first again", func() { seal(base.Add(time.Minute)) }, 3},
		{"all are forgotten", func() {
			now = base.Add(90 * 24 * time.Hour).Time()
			for more := true; more; {
				var err error
				if more, err = s.Tidy(); err != nil {
					t.Fatal(err)
				}
			}
		}, 0},
		{"a block after that", func() { seal(base.Add(91 * 24 * time.Hour)) }, 3},
	} {
		open()
		x.do()
		if err := s.Check(); err != nil {
			t.Errorf("%s: %v", x.name, err)
		}
		s.Close()
		if n, behind := marks(); n != x.want || behind != (x.want > 0) {
			t.Errorf("%s: got %d marks, behind the last block %v, want %d", x.name, n, behind, x.want)
		}
	}
	spoil(t, path, func(tx *bolt.Tx) {
		b := tx.Bucket([]byte("blocks"))
		k, v := b.Cursor().Last()
		v = bytes.Clone(v)
		v[1] ^= 8
		if err := b.Put(bytes.Clone(k), v); err != nil {
			t.Fatal(err)
		}
	})
	open()
	defer func() { s.Close() }()
	if err := s.Check(); !errors.Is(err, store.ErrDamaged) {
		t.Errorf("a damaged mark: got %v", err)
	}
	seal(base.Add(93 * 24 * time.Hour))
	if err := s.Check(); err != nil {
		t.Errorf("once the marks have moved: %v", err)
	}
	if got := all(t, s, key(0), base.Add(90*24*time.Hour), base.Add(99*24*time.Hour)); len(got) != 2 {
		t.Errorf("got %d readings, want 2", len(got))
	}
}
