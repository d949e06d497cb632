package store_test

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/store"
)

func importAll(t *testing.T, s *store.Store, replace bool, rs []aquarium.Reading) store.Tally {
	t.Helper()
	tally, err := s.Import(replace, func(add func(aquarium.Batch) error) error {
		return add(aquarium.Batch{Readings: rs})
	})
	if err != nil {
		t.Fatal(err)
	}
	return tally
}

func tidyAll(t *testing.T, s *store.Store) {
	t.Helper()
	for more := true; more; {
		var err error
		if more, err = s.Tidy(); err != nil {
			t.Fatal(err)
		}
	}
}

// TestImportAgain: a history that is there is found to be there, and the file
// stays as it is.
func TestImportAgain(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lentic.db")
	s := open(t, path)
	var rs []aquarium.Reading
	for at := base; at < base.Add(10*24*time.Hour); at = at.Add(time.Minute) {
		rs = append(rs, fullReading(0, at), fullReading(1, at))
	}
	if got, want := importAll(t, s, false, rs), (store.Tally{Fresh: len(rs)}); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, replace := range []bool{false, true} {
		if got, want := importAll(t, s, replace, rs), (store.Tally{Repeats: len(rs)}); got != want {
			t.Errorf("again, replace %v: got %+v, want %+v", replace, got, want)
		}
	}
	after, err := os.ReadFile(path)
	if err != nil || string(before) != string(after) {
		t.Errorf("the file was written to: %v", err)
	}
	rs[7].Value++
	if got, want := importAll(t, s, false, rs), (store.Tally{Repeats: len(rs) - 1, Conflicts: 1}); got != want {
		t.Errorf("another value: got %+v, want %+v", got, want)
	}
	if got, want := importAll(t, s, true, rs), (store.Tally{Repeats: len(rs) - 1, Conflicts: 1}); got != want {
		t.Errorf("replaced: got %+v, want %+v", got, want)
	}
	if got := all(t, s, rs[7].Sensor, rs[7].At, rs[7].At+1); len(got) != 1 || got[0] != rs[7] {
		t.Errorf("replaced: got %+v", got)
	}
}

// TestImportOlderThanKept: of a history that is older than readings are kept
// the sums stay, and they are the same whether it comes at once, in two parts,
// or again after its readings are gone.
func TestImportOlderThanKept(t *testing.T) {
	now := base.Add(900 * 24 * time.Hour)
	s, err := store.Open(filepath.Join(t.TempDir(), "lentic.db"), store.Options{Reserve: -1, Now: func() time.Time { return now.Time() }})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	var odd, even, both []aquarium.Reading
	for at := base; at < base.Add(10*24*time.Hour); at = at.Add(time.Minute) {
		odd = append(odd, fullReading(0, at))
		even = append(even, fullReading(0, at.Add(30*time.Second)))
		both = append(both, odd[len(odd)-1], even[len(even)-1])
	}
	want := plainSums(both, base, base.Add(10*24*time.Hour), time.Hour, nil)
	check := func(when string) {
		t.Helper()
		if err := sameSums(sums(t, s, fullKey(0), base, base.Add(10*24*time.Hour), time.Hour), want); err != nil {
			t.Errorf("%s: %v", when, err)
		}
	}
	importAll(t, s, false, odd)
	importAll(t, s, false, even)
	check("in two parts")
	importAll(t, s, false, odd)
	check("again")
	tidyAll(t, s)
	if left := all(t, s, fullKey(0), base, now); len(left) != 0 {
		t.Fatalf("%d readings are left", len(left))
	}
	check("its readings gone")
	if got, want := importAll(t, s, false, even), (store.Tally{Repeats: len(even)}); got != want {
		t.Errorf("again: got %+v, want %+v", got, want)
	}
	tidyAll(t, s)
	check("again, its readings gone")
	late := fullReading(0, base.Add(20*24*time.Hour))
	if got, want := importAll(t, s, false, []aquarium.Reading{late}), (store.Tally{Fresh: 1}); got != want {
		t.Errorf("another time: got %+v, want %+v", got, want)
	}
}
