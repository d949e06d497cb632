package store_test

import (
	"path/filepath"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/store"
)

// TestWhatIsSealedIsNotReplayed: a log record stays as long as one tank needs
// it. What a block of another tank has from it already, and has had replaced
// since, does not come back at the next start.
func TestWhatIsSealedIsNotReplayed(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lentic.db")
	now := base.Time().Add(20 * time.Hour)
	open := func() *store.Store {
		s, err := store.Open(path, store.Options{Reserve: -1, Now: func() time.Time { return now }})
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	early := aquarium.Reading{Sensor: key(0), At: base, Value: 1, Unit: "pH"}
	late := aquarium.Reading{Sensor: key(0), At: base.Add(20 * time.Hour), Value: 3, Unit: "pH"}
	late.Sensor.Tank = "lobby"
	tidy := func(s *store.Store) {
		t.Helper()
		now = now.Add(2 * time.Minute)
		for more := true; more; {
			var err error
			if more, err = s.Tidy(); err != nil {
				t.Fatal(err)
			}
		}
	}
	s := open()
	if _, err := s.Append(aquarium.Batch{Readings: []aquarium.Reading{early, late}}, nil); err != nil {
		t.Fatal(err)
	}
	tidy(s)
	changed := early
	changed.Value = 2
	if _, err := s.Replace(aquarium.Batch{Readings: []aquarium.Reading{changed}}, nil); err != nil {
		t.Fatal(err)
	}
	check := func(when string) {
		t.Helper()
		if rs := all(t, s, key(0), base, base.Add(48*time.Hour)); len(rs) != 1 || rs[0] != changed {
			t.Errorf("%s: got %v, want %v", when, rs, changed)
		}
		if rs := all(t, s, late.Sensor, base, base.Add(48*time.Hour)); len(rs) != 1 || rs[0] != late {
			t.Errorf("%s: got %v, want %v", when, rs, late)
		}
		for _, r := range []aquarium.Reading{changed, late} {
			if got, ok := s.Latest(r.Sensor); !ok || got != r {
				t.Errorf("%s: latest: got %v, want %v", when, got, r)
			}
			if got, ok := s.First(r.Sensor); !ok || got != r {
				t.Errorf("%s: first: got %v, want %v", when, got, r)
			}
		}
		if o, err := s.Append(aquarium.Batch{Readings: []aquarium.Reading{early, changed, late}}, nil); err != nil || o.Repeats != 2 || o.Conflicts != 1 {
			t.Errorf("%s: again: %+v, %v", when, o, err)
		}
	}
	check("replaced, pending")
	tidy(s)
	check("sealed")
	for range 2 {
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		s = open()
		check("opened again")
	}
	if err := s.Seal(); err != nil {
		t.Fatal(err)
	}
	check("all sealed")
	s.Close()
}
