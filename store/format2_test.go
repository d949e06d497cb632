package store_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/store"
	"lentic/store/ledger"
	"lentic/store/record"
)

// makeFormat2 is the program that made testdata/store/format2.db on
// 2026-11-26: go test ./store -run TestFormat2 -write-format. Twelve days lie in
// blocks and sums, the last hours in the log.
func makeFormat2(t *testing.T, path string) {
	now := format1At
	s, err := store.Open(path, store.Options{Writer: "lentic format 2", Reserve: -1, Now: func() time.Time { return now.Time() }})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	rs := format2Readings()
	sealed := len(rs) - 60
	for some := range slices.Chunk(rs[:sealed], 500) {
		if _, err := s.Append(aquarium.Batch{Readings: some}, nil); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Seal(); err != nil {
		t.Fatal(err)
	}
	_, err = s.Append(aquarium.Batch{Readings: rs[sealed:]}, func(tx ledger.Tx, o aquarium.Outcome) error {
		return tx.Put("marks", "quillmere-library", format1At)
	})
	if err != nil {
		t.Fatal(err)
	}
}

// format2Readings are of three sensors in two tanks, one reading each a quarter
// of an hour.
func format2Readings() []aquarium.Reading {
	var rs []aquarium.Reading
	for i := range 12 * 24 * 4 {
		at := format1At.Add(time.Duration(i-12*24*4) * 15 * time.Minute)
		for n, x := range []struct {
			tank   aquarium.TankID
			sensor aquarium.SensorID
			unit   aquarium.Unit
			value  float64
		}{
			{"atrium", "ph", "pH", float64(650+i*7%23) / 100},
			{"atrium", "water", "Cel", float64(392+i*5%11) / 16},
			{"foyer", "level", "mm", -float64(i * 3 % 17)},
		} {
			rs = append(rs, aquarium.Reading{
				Sensor: aquarium.SensorKey{Site: "quillmere-library", Tank: x.tank, Sensor: x.sensor},
				At:     at + aquarium.Instant(n), Value: x.value, Unit: x.unit, Retimed: i%50 == 7,
			})
		}
	}
	return rs
}

// TestFormat2 opens a file of format 2, as every later version must: reading
// leaves it as it is, writing goes on in it.
func TestFormat2(t *testing.T) {
	name := filepath.Join(fixtures, "format2.db")
	if *writeFormat && record.Format == 2 {
		if _, err := os.Stat(name); err == nil {
			t.Fatalf("%s is there and stays as it is", name)
		}
		makeFormat2(t, name)
	}
	file, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if len(file) > 150<<10 {
		t.Errorf("%d bytes, want less than 150 KiB", len(file))
	}
	path := filepath.Join(t.TempDir(), "lentic.db")
	if err := os.WriteFile(path, file, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, readOnly := range []bool{true, false} {
		t.Run(fmt.Sprint("read only ", readOnly), func(t *testing.T) {
			s, err := store.Open(path, store.Options{ReadOnly: readOnly, Reserve: -1, Now: func() time.Time { return format1At.Add(-time.Hour).Time() }})
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			checkFormat2(t, s)
			if readOnly {
				return
			}
			if err := s.Seal(); err != nil {
				t.Fatal(err)
			}
			checkFormat2(t, s)
		})
		if after, _ := os.ReadFile(path); readOnly && !bytes.Equal(after, file) {
			t.Error("reading changed the file")
		}
	}
}

func checkFormat2(t *testing.T, s *store.Store) {
	t.Helper()
	want := map[aquarium.SensorKey][]aquarium.Reading{}
	for _, r := range format2Readings() {
		want[r.Sensor] = append(want[r.Sensor], r)
	}
	for k, rs := range want {
		if got := all(t, s, k, 0, format1At*2); !reflect.DeepEqual(got, rs) {
			t.Errorf("%s: got %d readings, want %d, or they differ", k, len(got), len(rs))
		}
		for _, width := range []time.Duration{10 * time.Minute, time.Hour, 24 * time.Hour} {
			checkSums(t, s, k, rs, width)
		}
	}
	var mark aquarium.Instant
	if err := s.View(func(tx ledger.Tx) error { _, err := tx.Get("marks", "quillmere-library", &mark); return err }); err != nil || mark != format1At {
		t.Errorf("mark: got %s, %v", mark, err)
	}
	if err := s.Check(); err != nil {
		t.Error(err)
	}
}

// checkSums compares the counts and extents of sums with the readings they are
// of.
func checkSums(t *testing.T, s *store.Store, k aquarium.SensorKey, rs []aquarium.Reading, width time.Duration) {
	t.Helper()
	type extent struct {
		n        int
		min, max float64
	}
	want, got := map[aquarium.Instant]extent{}, map[aquarium.Instant]extent{}
	for _, r := range rs {
		at := r.At.Floor(width)
		e, ok := want[at]
		if !ok {
			e = extent{0, r.Value, r.Value}
		}
		want[at] = extent{e.n + 1, min(e.min, r.Value), max(e.max, r.Value)}
	}
	err := s.Sums(k, 0, format1At*2, width, func(x aquarium.Sum) bool {
		got[x.At] = extent{x.Good, x.Min, x.Max}
		return true
	})
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%s: sums by %s: got %d, want %d, or they differ: %v", k, width, len(got), len(want), err)
	}
}
