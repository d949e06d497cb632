package store_test

import (
	"context"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/store"
)

// TestIntakeBeside: while a history is imported, a backup made and everything
// checked, commits go on, and no read transaction is long.
func TestIntakeBeside(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "lentic.db"))
	n := 0
	commit := func() time.Duration {
		var b aquarium.Batch
		for i := range 12 {
			b.Readings = append(b.Readings, aquarium.Reading{Sensor: key(i), At: base.Add(time.Duration(n) * 10 * time.Second), Value: float64(n%700) / 10, Unit: "mm"})
		}
		n++
		begun := time.Now()
		if _, err := s.Append(b, nil); err != nil {
			t.Fatal(err)
		}
		return time.Since(begun)
	}
	during := func(what string, work func() error) {
		t.Helper()
		done := make(chan error, 1)
		go func() { done <- work() }()
		var took []time.Duration
		for {
			select {
			case err := <-done:
				if err != nil {
					t.Fatalf("%s: %v", what, err)
				}
				slices.Sort(took)
				t.Logf("%-8s %4d commits of 12: half of them within %s, all but a hundredth within %s, all within %s",
					what, len(took), took[len(took)/2], took[len(took)*99/100], took[len(took)-1])
				if most := took[len(took)-1]; most > 3*time.Second {
					t.Errorf("%s: a commit took %s", what, most)
				}
				return
			default:
				took = append(took, commit())
				time.Sleep(time.Millisecond)
			}
		}
	}
	during("alone", func() error { time.Sleep(time.Second / 2); return nil })
	during("import", func() error {
		_, err := s.Import(false, func(add func(aquarium.Batch) error) error {
			var b aquarium.Batch
			for at := base.Add(-60 * 24 * time.Hour); at < base; at = at.Add(10 * time.Second) {
				for i := range 4 {
					b.Readings = append(b.Readings, aquarium.Reading{Sensor: key(i), At: at, Value: float64(int64(at)/10_000%911) / 100, Unit: "mm"})
				}
				if len(b.Readings) > 4000 {
					if err := add(b); err != nil {
						return err
					}
					b.Readings = b.Readings[:0]
				}
			}
			return add(b)
		})
		return err
	})
	during("backup", func() error {
		_, err := s.Backup(context.Background(), filepath.Join(t.TempDir(), "backup.db"), nil)
		return err
	})
	during("check", func() error {
		f, err := s.Inspect(context.Background(), nil)
		if f.Damaged > 0 {
			err = f.Err()
		}
		return err
	})
	if got := s.LongestRead(); got > store.LongestAllowed {
		t.Errorf("a read transaction took %s", got)
	} else {
		t.Logf("the longest read transaction took %s", got)
	}
}
