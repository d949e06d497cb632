package main

import (
	"bytes"
	"fmt"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"go.etcd.io/bbolt"

	"lentic/store/record"
)

// Bad input gets an error that names place, reason and remedy, and costs
// nothing else.

// keeperConfig is a whole configuration with one tank, on the given ports; more
// are further lines at its top.
func keeperConfig(dir string, web int, more ...string) string {
	return fmt.Sprintf(`data: %q
listen: { web: "127.0.0.1:%d" }
%s
people: [ { id: keeper, name: Keeper, email: keeper@example.net } ]
channels: [ { id: mail, kind: smtp, host: 127.0.0.1, port: 9, from: watch@example.net } ]
call_out:
  high: [ { tell: keeper, by: mail } ]
  medium: [ { tell: keeper, by: mail } ]
  low: [ { tell: keeper, by: mail } ]
sites:
  - id: quillmere-library
    name: Quillmere Library
    timezone: Europe/London
    tanks:
      - id: atrium
        name: Atrium island
        sensors: { ph: { quantity: ph }, water: { quantity: temperature } }
`, filepath.Join(dir, "data"), web, strings.Join(more, "\n"))
}

// watching starts lentic and waits until it does its whole job.
func watching(t *testing.T, cfg string, web int) *process {
	t.Helper()
	p := start(t, binary(t), "run", "-c", cfg)
	eventually(t, patience, "lentic is healthy", func() bool {
		select {
		case <-p.done:
			t.Fatalf("lentic ended at once:\n%s", p.stderr)
		default:
		}
		return healthy(web)
	})
	return p
}

// refusesToRun starts lentic, which must end by itself, and returns what it
// said.
func refusesToRun(t *testing.T, cfg string, want int) string {
	t.Helper()
	p := start(t, binary(t), "run", "-c", cfg)
	select {
	case <-p.done:
	case <-time.After(20 * time.Second):
		t.Fatalf("lentic runs on; it said:\n%s", p.stderr)
	}
	if got := p.cmd.ProcessState.ExitCode(); got != want {
		t.Errorf("exit status %d, want %d; lentic said:\n%s", got, want, p.stderr)
	}
	return p.stderr.String()
}

// standing lists the causes of the alarms that stand, as the API tells them.
func standing(t *testing.T, web int) []string {
	t.Helper()
	res, err := http.Get(fmt.Sprintf("http://127.0.0.1:%d/api/v1/alarms?standing=true", web))
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	var as []struct{ Cause string }
	if err := decodeJSON(res.Body, &as); err != nil {
		t.Fatal(err)
	}
	var causes []string
	for _, a := range as {
		causes = append(causes, a.Cause)
	}
	return causes
}

// contains fails for each word that text does not have.
func contains(t *testing.T, text string, words ...string) {
	t.Helper()
	for _, w := range words {
		if !strings.Contains(text, w) {
			t.Errorf("%q is missing in:\n%s", w, text)
		}
	}
}

// twentyMistakes has one mistake in each line that ends in "#!".
const twentyMistakes = `data: ./data
listen: { web: "127.0.0.1:99999" } #!
publik_url: https://watch.example.net #!
people:
  - { id: Keeper!, name: Keeper } #!
  - { id: deputy, name: Deputy, phone: "0770" } #!
  - { id: night, name: Night, phone: "+447700900102", quiet: "22-07" } #!
channels:
  - { id: texts, kind: pigeon } #!
  - id: mail
    kind: smtp
    host: mail.example.net
    port: x #!
    from: watch@example.net
call_out:
  high: [ { tell: nobody, by: mail } ] #!
sites:
  - id: quillmere-library
    name: Quillmere Library
    timezone: Europe/Lundon #!
    tanks:
      - id: atrium
        name: Atrium island
        size: { length_cm: -1, width_cm: 60, fill_cm: 52 } #!
        started: yesterday #!
        substrate: gravel #!
        alkalinity_dkh: many #!
        lights: { on: "25:00", off: "18:00" } #!
        limits: { ph: [8.4, 6.2] } #!
        sensors:
          ph: { quantity: acidity } #!
          water: { quantity: temperature, unit: furlong } #!
          flow-a: { quantity: flow, every: fast } #!
        equipment:
          co2: { ph: hp, target: 6.6, band: 0.05 } #!
          heatr: { temperature: water } #!
`

// TestTwentyMistakes: each is told with its place, all of them at once, by run
// at a first start and by check alike.
func TestTwentyMistakes(t *testing.T) {
	t.Parallel()
	cfg := writeConfig(t, t.TempDir(), twentyMistakes)
	wanted := 0
	_, told, status := lentic(t, "check", "-c", cfg)
	if status != 1 {
		t.Errorf("check: exit status %d, want 1", status)
	}
	if again := refusesToRun(t, cfg, 78); again != told {
		t.Errorf("run says\n%s\nand check\n%s", again, told)
	}
	for n, line := range strings.Split(twentyMistakes, "\n") {
		place := fmt.Sprintf("%s:%d:", cfg, n+1)
		if has := strings.Contains(told, place); has != strings.HasSuffix(line, "#!") {
			t.Errorf("line %d told: got %v, want %v: %s", n+1, has, !has, line)
		}
		if strings.HasSuffix(line, "#!") {
			wanted++
		}
	}
	if wanted != 20 {
		t.Errorf("the file has %d mistakes, want 20", wanted)
	}
	form := regexp.MustCompile(`^` + regexp.QuoteMeta(cfg) + `:[0-9]+:[0-9]+: \S.*$`)
	for line := range strings.Lines(told) {
		if !form.MatchString(strings.TrimSuffix(line, "\n")) {
			t.Errorf("not file:line:column: what: %q", line)
		}
	}
	contains(t, told, `unknown key "publik_url": did you mean public_url?`, `unknown key "heatr": did you mean heater?`)
}

// TestMistakesLater: a bad file given to a running daemon, or found at a later
// start, is refused aloud, and the last accepted configuration goes on.
func TestMistakesLater(t *testing.T) {
	t.Parallel()
	dir, web := t.TempDir(), freePort(t)
	good := keeperConfig(dir, web)
	cfg := writeConfig(t, dir, good)
	p := watching(t, cfg, web)
	if out, errs, status := lentic(t, "reload", "-c", cfg); status != 0 {
		t.Fatalf("reload of a good file: exit status %d: %s%s", status, out, errs)
	}
	bad := strings.Replace(good, "quantity: ph", "quantity: acidity", 1)
	writeConfig(t, dir, bad)
	_, errs, status := lentic(t, "reload", "-c", cfg)
	if status != 78 {
		t.Errorf("reload of a bad file: exit status %d, want 78", status)
	}
	contains(t, errs, cfg+":17:", "acidity")
	if got := standing(t, web); strings.Join(got, " ") != "configuration-refused" {
		t.Errorf("standing after a refused reload: got %v, want configuration-refused", got)
	}
	if !healthy(web) {
		t.Error("a refused reload cost the daemon its health")
	}
	// A visit can be declared while somebody is still mending the file.
	out, errs, status := lentic(t, "visit", "start", "-c", cfg, "--site", "quillmere-library", "--tank", "atrium")
	if status != 0 {
		t.Errorf("visit beside a bad file: exit status %d: %s%s", status, out, errs)
	}
	contains(t, errs, "the last accepted configuration is used")
	if status := p.stop(12 * time.Second); status != 0 {
		t.Errorf("stop: exit status %d, want 0", status)
	}

	p = watching(t, cfg, web)
	if got := standing(t, web); strings.Join(got, " ") != "configuration-refused" {
		t.Errorf("standing after a later start on a bad file: got %v, want configuration-refused", got)
	}
	contains(t, p.stderr.String(), "the last accepted one goes on", cfg+":17:")
	writeConfig(t, dir, good)
	if _, errs, status := lentic(t, "reload", "-c", cfg); status != 0 {
		t.Errorf("reload of the mended file: exit status %d: %s", status, errs)
	}
	// Nobody has acknowledged it, so it stays on the page; but it is over.
	eventually(t, patience, "configuration-refused returns", func() bool {
		_, body := get(t, fmt.Sprintf("http://127.0.0.1:%d/api/v1/alarms?standing=true", web), nil)
		return !strings.Contains(body, `"unacknowledged"`)
	})
	if status := p.stop(12 * time.Second); status != 0 {
		t.Errorf("stop: exit status %d, want 0", status)
	}
}

// TestPlaceThatCannotChange: what a running daemon cannot change is refused
// with the remedy.
func TestPlaceThatCannotChange(t *testing.T) {
	t.Parallel()
	dir, web := t.TempDir(), freePort(t)
	cfg := writeConfig(t, dir, keeperConfig(dir, web))
	watching(t, cfg, web)
	writeConfig(t, dir, keeperConfig(dir, freePort(t)))
	_, errs, status := lentic(t, "reload", "-c", cfg)
	if status != 78 {
		t.Errorf("exit status %d, want 78", status)
	}
	contains(t, errs, "listen.web cannot change while lentic runs: restart it")
}

// TestReloadOfAnotherFile: the daemon reads its own file, by whatever name, and
// says so to who means another.
func TestReloadOfAnotherFile(t *testing.T) {
	t.Parallel()
	dir, web := t.TempDir(), freePort(t)
	cfg := writeConfig(t, dir, keeperConfig(dir, web))
	watching(t, cfg, web)
	other := writeConfig(t, t.TempDir(), keeperConfig(dir, web))
	contains(t, fails(t, 2, "reload", "-c", other), "lentic runs on "+cfg, "put the change there", "start it anew with -c "+other)
	if got := standing(t, web); len(got) > 0 {
		t.Errorf("standing: got %v, want none: nothing was refused", got)
	}
	link := filepath.Join(t.TempDir(), "same.yaml")
	if err := os.Symlink(cfg, link); err != nil {
		t.Fatal(err)
	}
	contains(t, does(t, "reload", "-c", link), "in force")
}

// TestLongDataPath: a socket's path is bounded by the system (107 bytes on
// Linux, unix(7)); a data directory's is not.
func TestLongDataPath(t *testing.T) {
	t.Parallel()
	dir, web := filepath.Join(t.TempDir(), strings.Repeat("deep/", 30)), freePort(t)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	cfg := writeConfig(t, dir, keeperConfig(dir, web))
	p := watching(t, cfg, web)
	contains(t, does(t, "visit", "start", "-c", cfg, "--site", "quillmere-library", "--tank", "atrium"), "Visit at")
	contains(t, does(t, "reload", "-c", cfg), "in force")
	socket := filepath.Join(dir, "data", "control.sock")
	if info, err := os.Stat(socket); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("control.sock: %v, %v; want mode 600", info, err)
	}
	if status := p.stop(12 * time.Second); status != 0 {
		t.Errorf("stop: exit status %d, want 0", status)
	}
	if _, err := os.Stat(socket); !os.IsNotExist(err) {
		t.Errorf("control.sock is still there (%v)", err)
	}
	contains(t, does(t, "visit", "end", "-c", cfg, "--site", "quillmere-library", "--tank", "atrium"), "is over")
}

// TestTakenPort: whose port is taken is told its address.
func TestTakenPort(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, mqtt string }{{"pages", ""}, {"mqtt", `"127.0.0.1:%d"`}} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			l, err := net.Listen("tcp", "127.0.0.1:0")
			if err != nil {
				t.Fatal(err)
			}
			defer l.Close()
			taken := l.Addr().(*net.TCPAddr).Port
			dir, text := t.TempDir(), ""
			if c.mqtt == "" {
				text = keeperConfig(dir, taken)
			} else {
				text = strings.Replace(keeperConfig(dir, freePort(t)), `" }`, fmt.Sprintf(`", mqtt: "127.0.0.1:%d" }`, taken), 1)
			}
			said := refusesToRun(t, writeConfig(t, dir, text), 3)
			contains(t, said, l.Addr().String(), "in use")
		})
	}
}

// TestSecondDaemon: two on one data directory would both tell everybody.
func TestSecondDaemon(t *testing.T) {
	t.Parallel()
	dir, web := t.TempDir(), freePort(t)
	cfg := writeConfig(t, dir, keeperConfig(dir, web))
	p := watching(t, cfg, web)
	said := refusesToRun(t, cfg, 3)
	contains(t, said, "another lentic, or one of its commands, is at work in "+filepath.Join(dir, "data"), "stop it", "lentic reload", "a data directory of its own")
	if !healthy(web) {
		t.Error("the first daemon suffered from the second")
	}
	if info, err := os.Stat(filepath.Join(dir, "data", "control.sock")); err != nil {
		t.Error(err)
	} else if got := info.Mode().Perm(); got != 0o600 {
		t.Errorf("control.sock has mode %o, want 600", got)
	}
	if status := p.stop(10 * time.Second); status != 0 {
		t.Errorf("SIGTERM: exit status %d within 10 s, want 0", status)
	}
}

// TestStoreRefused: a database that must not be touched is not.
func TestStoreRefused(t *testing.T) {
	t.Parallel()
	newer := func(t *testing.T, path string) {
		db, err := bbolt.Open(path, 0o600, nil)
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		if err := db.Update(func(tx *bbolt.Tx) error {
			key := []byte("format")
			return tx.Bucket([]byte("meta")).Put(key, record.Seal(nil, key, []byte("999")))
		}); err != nil {
			t.Fatal(err)
		}
	}
	foreign := func(t *testing.T, path string) {
		if err := os.WriteFile(path, bytes.Repeat([]byte("no database\n"), 2000), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	// Both of bbolt's meta pages, past their magic numbers: neither adds up.
	damaged := func(t *testing.T, path string) {
		f, err := os.OpenFile(path, os.O_RDWR, 0)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		for _, page := range []int64{0, int64(os.Getpagesize())} {
			if _, err := f.WriteAt(bytes.Repeat([]byte{0xff}, 32), page+32); err != nil {
				t.Fatal(err)
			}
		}
	}
	for _, c := range []struct {
		name  string
		spoil func(t *testing.T, path string)
		words []string
	}{
		{"newer format", newer, []string{"written by a newer lentic", "999"}},
		{"foreign", foreign, []string{"not a lentic database", "move it away"}},
		{"damaged", damaged, []string{"database is damaged"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			cfg := writeConfig(t, dir, keeperConfig(dir, freePort(t)))
			if _, errs, status := lentic(t, "user", "list", "-c", cfg); status != 0 { // makes the database
				t.Fatalf("user list: exit status %d: %s", status, errs)
			}
			path := filepath.Join(dir, "data", "lentic.db")
			c.spoil(t, path)
			before, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			contains(t, refusesToRun(t, cfg, 79), append(c.words, path)...)
			if _, errs, status := lentic(t, "visit", "end", "-c", cfg, "--site", "quillmere-library", "--tank", "atrium"); status != 79 {
				t.Errorf("a command: exit status %d, want 79: %s", status, errs)
			}
			if after, err := os.ReadFile(path); err != nil || !bytes.Equal(before, after) {
				t.Errorf("the file was touched (%v)", err)
			}
		})
	}
}

// TestWrongUsage: 2, and what would be right.
func TestWrongUsage(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	cfg := writeConfig(t, dir, keeperConfig(dir, freePort(t)))
	tank := []string{"-c", cfg, "--site", "quillmere-library", "--tank", "atrium"}
	for _, c := range []struct {
		name string
		args []string
		word string
	}{
		{"no command", nil, "expected one of"},
		{"unknown command", []string{"dance"}, "dance"},
		{"unknown flag", []string{"check", "--colour"}, "--colour"},
		{"missing flag", []string{"visit", "start", "-c", cfg, "--site", "quillmere-library"}, "--tank"},
		{"no length of time", append([]string{"visit", "start", "--for", "soon"}, tank...), "soon"},
		{"a visit without end", append([]string{"visit", "start", "--for", "1000h"}, tank...), "24h0m0s"},
		{"a visit that ends before it begins", append([]string{"visit", "start", "--for=-2h"}, tank...), "24h0m0s"},
		{"alkalinity no water has", append([]string{"hand-test", "--kh", "900"}, tank...), "900"},
		{"a test still to come", append([]string{"hand-test", "--kh", "4", "--at", "2999-01-01T00:00:00Z"}, tank...), "still to come"},
		{"a buffer without a reading", append([]string{"calibrate", "--sensor", "ph", "--buffer", "7.00"}, tank...), "7.00=6.98"},
		{"millivolts for pH", append([]string{"calibrate", "--sensor", "ph", "--buffer", "7.00=-15"}, tank...), "--mv"},
		{"buffers the wrong way round", append([]string{"calibrate", "--sensor", "ph", "--buffer", "7.00=4.01", "--buffer", "4.01=7.00"}, tank...), "which buffer is which"},
		{"four buffers", append([]string{"calibrate", "--sensor", "ph", "--buffer", "4=4", "--buffer", "6.86=6.86", "--buffer", "7=7", "--buffer", "10=10"}, tank...), "one to 3"},
		{"hot buffers", append([]string{"calibrate", "--sensor", "ph", "--buffer", "7=7", "--temperature", "70"}, tank...), "0 to 50"},
		{"a state that is none", append([]string{"calibrate", "--sensor", "ph", "--buffer", "7=7", "--as", "new"}, tank...), "found"},
		{"calibrated tomorrow", append([]string{"calibrate", "--sensor", "ph", "--buffer", "7=7", "--at", "2999-01-01T00:00:00Z"}, tank...), "still to come"},
		{"a meter and no cleaning", append([]string{"calibrate", "--sensor", "ph", "--buffer", "7=7", "--meter", "7=7"}, tank...), "--cleaned"},
		{"a calibrated thermometer", append([]string{"calibrate", "--sensor", "water", "--buffer", "7=7"}, tank...), "sensor of pH"},
		{"a thermometer corrected", append([]string{"export", "--sensor", "water", "--corrected", "--from", "2031-01-01", "--to", "2031-01-02"}, tank...), "only a pH electrode"},
		{"a time that is none", append([]string{"export", "--from", "yesterday", "--to", "2031-01-01"}, tank...), "yesterday"},
		{"stored readings without bounds", []string{"backtest", "-c", cfg}, "--readings"},
		{"a demo that stands still", []string{"demo", "--speed", "0"}, "--speed"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, errs, status := lentic(t, c.args...)
			if status != 2 {
				t.Errorf("exit status %d, want 2", status)
			}
			contains(t, errs, c.word)
		})
	}
}

// TestUnknownPlaces: what is not configured is named; the command failed.
func TestUnknownPlaces(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	cfg := writeConfig(t, dir, keeperConfig(dir, freePort(t)))
	for _, c := range []struct {
		args []string
		word string
	}{
		{[]string{"visit", "start", "--site", "nowhere", "--tank", "atrium"}, `"nowhere"`},
		{[]string{"serviced", "--site", "quillmere-library", "--tank", "moat"}, "quillmere-library/moat"},
		{[]string{"export", "--site", "quillmere-library", "--tank", "atrium", "--sensor", "salt", "--from", "2031-01-01", "--to", "2031-01-02"}, "salt"},
		{[]string{"test-text", "--to", "stranger"}, "stranger"},
		{[]string{"user", "token", "stranger", "--label", "x"}, "stranger"},
		{[]string{"user", "remove", "stranger"}, "stranger"},
	} {
		_, errs, status := lentic(t, append(c.args, "-c", cfg)...)
		if status != 3 {
			t.Errorf("%v: exit status %d, want 3: %s", c.args, status, errs)
		}
		contains(t, errs, c.word)
	}
	if _, errs, status := lentic(t, "check", "-c", filepath.Join(dir, "none.yaml")); status != 1 || !strings.Contains(errs, "none.yaml") {
		t.Errorf("check of no file: exit status %d, want 1: %s", status, errs)
	}
}

// TestBadRows: a bad row costs itself and is told with its line.
func TestBadRows(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	cfg := writeConfig(t, dir, keeperConfig(dir, freePort(t)))
	tape := filepath.Join(dir, "readings.csv")
	rows := "time,site,tank,sensor,value\n2031-03-02T02:14:30Z,quillmere-library,atrium,ph,6.6\nsoon,quillmere-library,atrium,ph,6.6\n2031-03-02T02:15:30Z,quillmere-library,moat,ph,6.6\n2031-03-02T02:15:30Z,quillmere-library,atrium,ph,sour\n"
	if err := os.WriteFile(tape, []byte(rows), 0o600); err != nil {
		t.Fatal(err)
	}
	out, errs, status := lentic(t, "backtest", "-c", cfg, "--readings", tape)
	if status != 0 {
		t.Errorf("exit status %d, want 0", status)
	}
	contains(t, errs, tape+":3:", tape+":4:", tape+":5:")
	contains(t, out, "No alarms.") // A visit left out would change what is found: it is an error.
	visits := filepath.Join(dir, "visits.csv")
	for row, word := range map[string]string{
		"quillmere-library,moat,2031-03-02T02:00:00Z,2031-03-02T03:00:00Z":   "quillmere-library/moat",
		"quillmere-library,atrium,2031-03-02T03:00:00Z,2031-03-02T02:00:00Z": "before it begins",
		"quillmere-library,atrium,soon,2031-03-02T02:00:00Z":                 "want site,tank,from,to",
	} {
		if err := os.WriteFile(visits, []byte("site,tank,from,to\n"+row+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		contains(t, fails(t, 3, "backtest", "-c", cfg, "--readings", tape, "--visits", visits), visits+":2:", word)
	}
}
