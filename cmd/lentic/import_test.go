package main

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// history is a CSV of readings of one sensor, a minute apart.
func history(from time.Time, rows int, value func(i int) float64) string {
	var b strings.Builder
	b.WriteString("time,site,tank,sensor,value\n")
	for i := range rows {
		fmt.Fprintf(&b, "%s,quillmere-library,atrium,ph,%g\n", from.Add(time.Duration(i)*time.Minute).Format(time.RFC3339), value(i))
	}
	return b.String()
}

// TestImport takes a history in, offline and beside a running daemon: it comes
// back as it was, again does no harm, bad rows cost only themselves.
func TestImport(t *testing.T) {
	t.Parallel()
	for _, running := range []bool{false, true} {
		t.Run(fmt.Sprintf("daemon %v", running), func(t *testing.T) {
			t.Parallel()
			dir, web := t.TempDir(), freePort(t)
			cfg := writeConfig(t, dir, keeperConfig(dir, web))
			if running {
				watching(t, cfg, web)
			}
			from := time.Now().Add(-40 * 24 * time.Hour).UTC().Truncate(time.Minute)
			const rows = 30_000
			good := history(from, rows, func(i int) float64 { return 6.5 + float64(i%30)/100 })
			file := filepath.Join(dir, "history.csv.gz")
			var packed bytes.Buffer
			z := gzip.NewWriter(&packed)
			z.Write([]byte(good))
			z.Close()
			if err := os.WriteFile(file, packed.Bytes(), 0o600); err != nil {
				t.Fatal(err)
			}
			contains(t, does(t, "import", "-c", cfg, file), "30000 rows: 30000 new, 0 were there, 0 differ", "0 could not be taken")
			contains(t, does(t, "import", "-c", cfg, file), "30000 rows: 0 new, 30000 were there")
			back := does(t, "export", "-c", cfg, "--site", "quillmere-library", "--tank", "atrium", "--sensor", "ph",
				"--from", from.Format(time.RFC3339), "--to", time.Now().UTC().Format(time.RFC3339))
			if back != good {
				t.Errorf("what was exported is not what was imported: %d bytes, want %d", len(back), len(good))
			}
			odd := filepath.Join(dir, "odd.csv")
			text := history(from, 2, func(int) float64 { return 7 }) +
				"2099-01-01T00:00:00Z,quillmere-library,atrium,ph,7\n" +
				"yesterday,quillmere-library,atrium,ph,7\n" +
				from.Format(time.RFC3339) + ",quillmere-library,moat,ph,7\n" +
				from.Format(time.RFC3339) + ",quillmere-library,atrium,salt,7\n" +
				from.Add(time.Second).Format(time.RFC3339) + ",quillmere-library,atrium,water,24.5\n"
			if err := os.WriteFile(odd, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
			contains(t, does(t, "import", "-c", cfg, odd), "odd.csv:4: time 2099", `odd.csv:5: time "yesterday": want RFC 3339`, "odd.csv:6: tank", "odd.csv:7: sensor",
				"7 rows: 1 new, 0 were there, 2 differ from what was there (which stands; --replace would change it), 4 could not be taken")
			contains(t, does(t, "import", "-c", cfg, odd, "--replace"), "7 rows: 0 new, 1 were there, 2 differ from what was there (now replaced), 4 could not be taken")
			contains(t, does(t, "export", "-c", cfg, "--site", "quillmere-library", "--tank", "atrium", "--sensor", "ph",
				"--from", from.Format(time.RFC3339), "--to", from.Add(3*time.Minute).Format(time.RFC3339)), ",ph,7\n", ",ph,6.52\n")
			contains(t, fails(t, 3, "import", "-c", cfg, filepath.Join(dir, "nowhere.csv")), "nowhere.csv")
			if err := os.WriteFile(odd, []byte("when,who,what\n"), 0o600); err != nil {
				t.Fatal(err)
			}
			contains(t, fails(t, 3, "import", "-c", cfg, odd), "odd.csv: line 1: the header", "want time,site,tank,sensor,value")
		})
	}
}

// TestImportStopped ends an import by a signal and by the power switch, offline
// and beside a running daemon: again, it comes to its end, and the history is
// as it was given. Intake goes on meanwhile.
func TestImportStopped(t *testing.T) {
	t.Parallel()
	for _, running := range []bool{false, true} {
		t.Run(fmt.Sprintf("daemon %v", running), func(t *testing.T) {
			t.Parallel()
			dir, web := t.TempDir(), freePort(t)
			cfg := writeConfig(t, dir, keeperConfig(dir, web))
			if running {
				watching(t, cfg, web)
			}
			from := time.Now().Add(-390 * 24 * time.Hour).UTC().Truncate(time.Minute)
			const rows = 500_000
			good := history(from, rows, func(i int) float64 { return float64(i*7919%1400) / 100 })
			file := filepath.Join(dir, "history.csv")
			if err := os.WriteFile(file, []byte(good), 0o600); err != nil {
				t.Fatal(err)
			}
			stopped := 0
			for _, how := range []struct {
				signal syscall.Signal
				after  time.Duration
			}{{syscall.SIGINT, 30}, {syscall.SIGKILL, 40}, {syscall.SIGINT, 80}, {syscall.SIGKILL, 120}} {
				var out bytes.Buffer
				cmd := exec.Command(binary(t), "import", "-c", cfg, file)
				cmd.Stdout, cmd.Stderr = &out, &out
				if err := cmd.Start(); err != nil {
					t.Fatal(err)
				}
				time.Sleep(how.after * time.Millisecond)
				cmd.Process.Signal(how.signal)
				err := cmd.Wait()
				if how.signal == syscall.SIGINT && strings.Contains(out.String(), "stopped after line") {
					stopped++
					if cmd.ProcessState.ExitCode() != 3 {
						t.Errorf("stopped: %v", err)
					}
					var line, there, fresh int
					fmt.Sscanf(out.String()[strings.Index(out.String(), "stopped after line"):], "stopped after line %d:", &line)
					if _, err := fmt.Sscanf(out.String(), "%d rows: %d new, %d were there", new(int), &fresh, &there); err != nil || fresh+there != max(0, line-1) {
						t.Errorf("after line %d: %s", line, &out)
					}
				}
			}
			t.Logf("stopped %d times by a signal on the way", stopped)
			out := does(t, "import", "-c", cfg, file)
			contains(t, out, fmt.Sprintf("%d rows: ", rows), " 0 differ", " 0 could not be taken")
			contains(t, does(t, "import", "-c", cfg, file), fmt.Sprintf("%d rows: 0 new, %d were there", rows, rows))
			back := does(t, "export", "-c", cfg, "--site", "quillmere-library", "--tank", "atrium", "--sensor", "ph",
				"--from", from.Format(time.RFC3339), "--to", time.Now().UTC().Format(time.RFC3339))
			if back != good {
				t.Errorf("what was exported is not what was imported: %d bytes, want %d", len(back), len(good))
			}
		})
	}
}
