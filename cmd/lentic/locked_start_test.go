package main

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"lentic/store"
)

// TestStartBesideACommand: a command that found no daemon has the database open for
// a moment, and a daemon that starts then waits for it.
func TestStartBesideACommand(t *testing.T) {
	t.Parallel()
	dir, web := t.TempDir(), freePort(t)
	cfg := writeConfig(t, dir, keeperConfig(dir, web))
	data := filepath.Join(dir, "data")
	if err := os.MkdirAll(data, 0o700); err != nil {
		t.Fatal(err)
	}
	s, err := store.Open(filepath.Join(data, "lentic.db"), store.Options{Reserve: -1})
	if err != nil {
		t.Fatal(err)
	}
	program := binary(t)
	time.AfterFunc(700*time.Millisecond, func() { s.Close() })
	p := start(t, program, "run", "-c", cfg)
	eventually(t, patience, "a healthy daemon", func() bool {
		select {
		case <-p.done:
			t.Fatalf("lentic ended:\n%s", p.stderr)
		default:
		}
		return healthy(web)
	})
}
