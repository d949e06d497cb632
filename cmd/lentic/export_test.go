package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestExportQuality: what is exported carries what may be thought of it, which
// was learned from what came before; nothing is lost by it, and nothing changed.
func TestExportQuality(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	cfg := writeConfig(t, dir, keeperConfig(dir, freePort(t)))
	begin := time.Now().Add(-10 * 24 * time.Hour).UTC().Truncate(24 * time.Hour)
	at := func(i int) time.Time { return begin.Add(time.Duration(i) * time.Minute) }
	const rows, spike, none, frozen, end = 5 * 1440, 4*1440 + 100, 4*1440 + 200, 4*1440 + 300, 5*1440 - 1
	text := history(begin, rows, func(i int) float64 {
		switch {
		case i == spike:
			return 8.2
		case i == none:
			return 0
		case i >= frozen && i < end-20:
			return 6.58
		case i == end:
			return 9
		}
		return math.Round((6.6+0.2*math.Sin(float64(i)/229)+0.01*math.Sin(float64(i*i)))*100) / 100
	}) + water(begin, rows)
	file := filepath.Join(dir, "history.csv")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	does(t, "import", "-c", cfg, file)
	export := func(from time.Time, more ...string) []string {
		args := append([]string{"export", "-c", cfg, "--site", "quillmere-library", "--tank", "atrium",
			"--from", from.Format(time.RFC3339), "--to", at(rows).Format(time.RFC3339)}, more...)
		return strings.Split(strings.TrimSpace(does(t, args...)), "\n")[1:]
	}
	marks := map[string]string{}
	n := map[string]int{}
	for _, line := range export(at(4*1440), "--sensor", "ph", "--quality") {
		f := strings.Split(line, ",")
		marks[f[0]], n[f[5]] = f[5], n[f[5]]+1
	}
	t.Logf("%v", n)
	for i, want := range map[int]string{spike: "spike", none: "range", frozen - 1: "good", frozen + 1: "good", end - 30: "frozen", end: "spike"} {
		if got := marks[at(i).Format(time.RFC3339)]; got != want {
			t.Errorf("minute %d: %q, want %q", i, got, want)
		}
	}
	if len(marks) != 1440 || n["frozen"] < 1000 || n["good"] < 320 || n["spike"] != 2 || n["range"] != 1 {
		t.Errorf("%d readings of a day: %v", len(marks), n)
	}
	plain := map[string]bool{}
	for _, line := range export(begin) {
		plain[line] = true
	}
	all := export(begin, "--quality")
	for _, line := range all {
		if i := strings.LastIndex(line, ","); !plain[line[:i]] {
			t.Fatalf("%s is not what was stored", line)
		}
	}
	if len(all) != 2*rows || len(plain) != 2*rows {
		t.Errorf("%d rows with their quality, %d without, want %d", len(all), len(plain), 2*rows)
	}
}

// water is the rows of a thermometer.
func water(from time.Time, rows int) string {
	var b strings.Builder
	for i := range rows {
		fmt.Fprintf(&b, "%s,quillmere-library,atrium,water,%g\n", from.Add(time.Duration(i)*time.Minute).Format(time.RFC3339), 24.5+float64(i%7)/10)
	}
	return b.String()
}
