package main

import (
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// TestBackupAndBack keeps a history, backs it up beside a running daemon and
// without one, and puts it back: the same readings, another client, nothing
// sent.
func TestBackupAndBack(t *testing.T) {
	t.Parallel()
	for _, running := range []bool{false, true} {
		t.Run(fmt.Sprintf("daemon %v", running), func(t *testing.T) {
			t.Parallel()
			dir, web := t.TempDir(), freePort(t)
			cfg := writeConfig(t, dir, keeperConfig(dir, web))
			from := time.Now().Add(-40 * 24 * time.Hour).UTC().Truncate(time.Minute)
			readings := history(from, 30_000, func(i int) float64 { return 6.5 + float64(i%30)/100 })
			file := filepath.Join(dir, "history.csv")
			if err := os.WriteFile(file, []byte(readings), 0o600); err != nil {
				t.Fatal(err)
			}
			does(t, "import", "-c", cfg, file)
			exported := func() string {
				return does(t, "export", "-c", cfg, "--site", "quillmere-library", "--tank", "atrium", "--sensor", "ph",
					"--from", from.Format(time.RFC3339), "--to", time.Now().UTC().Format(time.RFC3339))
			}
			stop := func() {}
			if running {
				p := watching(t, cfg, web)
				stop = func() {
					if status := p.stop(15 * time.Second); status != 0 {
						t.Errorf("the daemon ended with %d:\n%s", status, p.stderr)
					}
				}
			}
			dest := filepath.Join(dir, "backup.db")
			contains(t, does(t, "backup", "-c", cfg, dest), dest+": ", "30,000 readings", "read back and compared")
			contains(t, fails(t, 3, "backup", "-c", cfg, dest), dest, "exists")
			does(t, "backup", "-c", cfg, dir) // a folder
			if made, _ := filepath.Glob(filepath.Join(dir, "lentic-2*Z.db")); len(made) != 1 {
				t.Errorf("in the folder: %v", made)
			}
			contains(t, does(t, "store", "check", "-c", cfg), "30,000 readings", map[bool]string{true: "while the daemon is stopped", false: "every page and value"}[running])
			contains(t, does(t, "store", "check", "-c", cfg, "--file", dest), dest, "30,000 readings")
			if running {
				contains(t, fails(t, 3, "restore", "-c", cfg, dest, "--overwrite"), "stop it first", "nothing was restored")
				contains(t, fails(t, 3, "store", "check", "-c", cfg, "--salvage", filepath.Join(dir, "saved.db")), "stop it first")
				if longest := metric(t, web, "lentic_store_read_longest_seconds"); longest <= 0 || longest > 1 {
					t.Errorf("the longest read transaction took %g s", longest)
				}
			}
			stop()

			contains(t, fails(t, 3, "restore", "-c", cfg, dest), "exists", "--overwrite", "nothing was restored")
			contains(t, does(t, "restore", "-c", cfg, dest, "--overwrite"), "30,000 readings", "newest reading", "that was there is gone", "0 messages")
			if got := exported(); got != readings {
				t.Errorf("restored: %d bytes, want %d", len(got), len(readings))
			}
			elsewhere := writeConfig(t, t.TempDir(), keeperConfig(t.TempDir(), web))
			does(t, "restore", "-c", elsewhere, dest)

			// A damaged backup is not taken, and what is whole of it can be.
			bad := filepath.Join(dir, "bad.db")
			whole, err := os.ReadFile(dest)
			if err != nil {
				t.Fatal(err)
			}
			for n := range 5 { // one of them lies in a value
				whole[len(whole)*(n+2)/8] ^= 0x40
			}
			if err := os.WriteFile(bad, whole, 0o600); err != nil {
				t.Fatal(err)
			}
			fails(t, 1, "store", "check", "-c", cfg, "--file", bad)
			contains(t, fails(t, 79, "restore", "-c", cfg, bad, "--overwrite"), "damaged", "--salvage")
			saved := filepath.Join(dir, "saved.db")
			contains(t, fails(t, 1, "store", "check", "-c", cfg, "--file", bad, "--salvage", saved), "damaged in ")
			contains(t, does(t, "store", "check", "-c", cfg, "--file", saved), saved)
			contains(t, fails(t, 79, "store", "check", "-c", cfg, "--file", file), "not a lentic database")
		})
	}
}

// metric is one number of the daemon's own.
func metric(t *testing.T, web int, name string) float64 {
	t.Helper()
	res, err := http.Get(fmt.Sprintf("http://127.0.0.1:%d/metrics", web))
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	m := regexp.MustCompile(`(?m)^` + name + ` (\S+)$`).FindSubmatch(text)
	if m == nil {
		t.Fatalf("no %s in\n%s", name, text)
	}
	v, err := strconv.ParseFloat(string(m[1]), 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// TestBackupKilled: whoever makes a backup is killed on the way. The daemon
// does not mind, nothing has the backup's name, and the next try succeeds.
func TestBackupKilled(t *testing.T) {
	t.Parallel()
	dir, web := t.TempDir(), freePort(t)
	cfg := writeConfig(t, dir, keeperConfig(dir, web))
	from := time.Now().Add(-300 * 24 * time.Hour).UTC().Truncate(time.Minute)
	file := filepath.Join(dir, "history.csv")
	if err := os.WriteFile(file, []byte(history(from, 300_000, func(i int) float64 { return float64(i*7919%1400) / 100 })), 0o600); err != nil {
		t.Fatal(err)
	}
	does(t, "import", "-c", cfg, file)
	watching(t, cfg, web)
	dest := filepath.Join(dir, "backup.db")
	for _, after := range []time.Duration{5, 15, 25, 40} {
		cmd := exec.Command(binary(t), "backup", "-c", cfg, dest)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(after * time.Millisecond)
		cmd.Process.Signal(syscall.SIGKILL)
		cmd.Wait()
		if _, err := os.Stat(dest); err == nil {
			contains(t, does(t, "store", "check", "-c", cfg, "--file", dest), "300,000 readings")
			os.Remove(dest)
		}
	}
	contains(t, does(t, "backup", "-c", cfg, dest), "300,000 readings")
	if left, _ := filepath.Glob(dest + ".*"); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	if !healthy(web) {
		t.Error("the daemon is not well")
	}
	if strings.Contains(does(t, "refused", "-c", cfg), "panic") {
		t.Error("it panicked")
	}
}
