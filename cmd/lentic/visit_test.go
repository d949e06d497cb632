package main

import (
	"bytes"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// typed runs a command with something on its standard input.
func typed(t testing.TB, input string, args ...string) (stdout, stderr string, status int) {
	t.Helper()
	var out, errs bytes.Buffer
	cmd := exec.Command(binary(t), args...)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = strings.NewReader(input), &out, &errs
	var exit *exec.ExitError
	if err := cmd.Run(); err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	return out.String(), errs.String(), cmd.ProcessState.ExitCode()
}

// does runs a command that must succeed, and returns what it said.
func does(t *testing.T, args ...string) string {
	t.Helper()
	out, errs, status := lentic(t, args...)
	if status != 0 {
		t.Fatalf("%v: exit status %d: %s%s", args, status, out, errs)
	}
	return out
}

// fails runs a command that must fail with that status, and returns what it
// said.
func fails(t *testing.T, want int, args ...string) string {
	t.Helper()
	out, errs, status := lentic(t, args...)
	if status != want {
		t.Errorf("%v: exit status %d, want %d: %s%s", args, status, want, out, errs)
	}
	return errs
}

// TestCommandsBesideAndWithout: the same commands do the same through a running
// daemon and on the file itself, and each sees what the other wrote.
func TestCommandsBesideAndWithout(t *testing.T) {
	t.Parallel()
	for _, running := range []bool{true, false} {
		t.Run(map[bool]string{true: "running", false: "offline"}[running], func(t *testing.T) {
			t.Parallel()
			dir, web := t.TempDir(), freePort(t)
			cfg := writeConfig(t, dir, keeperConfig(dir, web))
			stop := func() {}
			if running {
				p := watching(t, cfg, web)
				stop = func() { p.stop(12 * time.Second) }
			}
			journalCommands(t, cfg)
			userCommands(t, cfg)
			stop()
			// What was written is on disk, whoever wrote it.
			contains(t, does(t, "user", "list", "-c", cfg), "watcher  viewer  quillmere-library  tokens: 1")
		})
	}
}

func journalCommands(t *testing.T, cfg string) {
	t.Helper()
	tank := []string{"-c", cfg, "--site", "quillmere-library", "--tank", "atrium"}
	with := func(args ...string) []string { return append(args, tank...) }
	contains(t, fails(t, 3, with("visit", "end")...), "no visit is open")
	contains(t, does(t, with("visit", "start", "--for", "90m", "--note", "trimming")...), "Visit at quillmere-library/atrium until", "CO2, wet floor and power go on being watched")
	contains(t, does(t, with("visit", "start", "--for", "3h")...), "until") // its end moves
	contains(t, does(t, with("visit", "end", "--note", "two stems lost")...), "is over")
	contains(t, fails(t, 3, with("visit", "end")...), "no visit is open")
	contains(t, does(t, with("hand-test", "--kh", "4.5")...), "4.5 dKH, from")
	contains(t, does(t, with("hand-test", "--kh", "5", "--at", time.Now().Add(-48*time.Hour).UTC().Format(time.RFC3339))...), "5.0 dKH")
	contains(t, does(t, with("calibrate", "--sensor", "ph", "--buffer", "7.00=7.15", "--buffer", "4.01=4.09", "--temperature", "20", "--as", "found", "--cleaned", "7.42=7.34", "--meter", "7.38=7.36")...),
		"buffer 4.01: worth pH 4.001 at 20 Cel; read 4.09 pH", "slope 101.", "offset -7.", "fouling -0.06, drift -0.13: -0.19 pH", "within 0.2", "rated excellent", "too low", "--corrected")
	contains(t, does(t, with("calibrate", "--sensor", "ph", "--buffer", "7=7", "--as", "left")...), "slope 101.4 % of the Nernst slope, from earlier buffers", "offset +0.0 mV", "good")
	contains(t, does(t, with("serviced", "--note", "canisters cleaned")...), "serviced")
	contains(t, does(t, "refused", "-c", cfg), "Refused, the newest first: 0", "Topics nobody has claimed: 0", "Set aside for their time: 0")
	contains(t, does(t, "release", "-c", cfg, "--gateway", "gw1", "--offset", "1h"), "0 readings of gateway gw1 released")
	contains(t, does(t, "backtest", "-c", cfg, "--from", "2031-01-01", "--to", "2031-01-02"), "No alarms.")
}

func userCommands(t *testing.T, cfg string) {
	t.Helper()
	const password = "three fine stones in a tank"
	if _, errs, status := typed(t, "", "user", "add", "-c", cfg, "keeper"); status != 2 {
		t.Errorf("user add without a password: exit status %d, want 2: %s", status, errs)
	}
	if _, errs, status := typed(t, "short\n", "user", "add", "-c", cfg, "keeper"); status != 2 {
		t.Errorf("user add with a short password: exit status %d, want 2: %s", status, errs)
	}
	for _, args := range [][]string{{"keeper"}, {"watcher", "--role", "viewer", "--site", "quillmere-library"}} {
		out, errs, status := typed(t, password+"\n", append([]string{"user", "add", "-c", cfg}, args...)...)
		if status != 0 {
			t.Fatalf("user add %v: exit status %d: %s", args, status, errs)
		}
		contains(t, out, "Account "+args[0]+" made")
		if strings.Contains(out+errs, password) {
			t.Error("the password was shown")
		}
	}
	if _, errs, status := typed(t, password+"\n", "user", "add", "-c", cfg, "keeper"); status != 3 {
		t.Errorf("user add twice: exit status %d, want 3: %s", status, errs)
	}
	token := strings.TrimSpace(does(t, "user", "token", "-c", cfg, "watcher", "--label", "wall display"))
	if len(token) < 32 || strings.ContainsAny(token, " \n") {
		t.Errorf("token %q: want one long word", token)
	}
	contains(t, does(t, "user", "list", "-c", cfg), "keeper  keeper  every site  tokens: 0", `token "wall display"`)
	does(t, "user", "token", "-c", cfg, "keeper", "--label", "old phone")
	contains(t, does(t, "user", "revoke", "-c", cfg, "keeper", "--label", "old phone"), "revoked")
	contains(t, fails(t, 3, "user", "revoke", "-c", cfg, "keeper", "--label", "old phone"), "old phone")
	if _, errs, status := typed(t, "short\n", "user", "password", "-c", cfg, "keeper"); status != 2 {
		t.Errorf("a short new password: exit status %d, want 2: %s", status, errs)
	}
	if _, errs, status := typed(t, password+"\n", "user", "password", "-c", cfg, "stranger"); status != 3 {
		t.Errorf("a stranger's new password: exit status %d, want 3: %s", status, errs)
	}
	out, errs, status := typed(t, "another fine password\n", "user", "password", "-c", cfg, "keeper")
	if status != 0 {
		t.Errorf("user password: exit status %d: %s", status, errs)
	}
	contains(t, out, "Account keeper has a new password", "signed out everywhere")
	contains(t, does(t, "user", "remove", "-c", cfg, "keeper"), "removed")
	if list := does(t, "user", "list", "-c", cfg); strings.Contains(list, "keeper  keeper") {
		t.Errorf("still listed:\n%s", list)
	}
}

// TestRefusedAndReleased: what cannot be taken in is shown with its reason, and
// readings set aside for their time come back by the very command shown.
func TestRefusedAndReleased(t *testing.T) {
	t.Parallel()
	dir, web, port := t.TempDir(), freePort(t), freePort(t)
	text := strings.Replace(keeperConfig(dir, web), `" }`, fmt.Sprintf(`", mqtt: "127.0.0.1:%d" }`, port), 1)
	cfg := writeConfig(t, dir, text)
	watching(t, cfg, web)
	client := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(fmt.Sprintf("tcp://127.0.0.1:%d", port)).SetClientID("gw1"))
	if tok := client.Connect(); !tok.WaitTimeout(10*time.Second) || tok.Error() != nil {
		t.Fatalf("connect: %v", tok.Error())
	}
	defer client.Disconnect(100)
	ahead := time.Now().Add(240 * time.Hour).Truncate(time.Second)
	for topic, payload := range map[string]string{
		"lentic/quillmere-library/-/gw1":     "present",
		"lentic/quillmere-library/atrium/ph": "sour",
		"lentic/quillmere-library/moat/ph":   "6.6",
		"lentic/quillmere-library/atrium":    fmt.Sprintf(`[{"bt":%d,"n":"ph","v":6.61},{"n":"water","u":"Cel","v":24.5}]`, ahead.Unix()),
	} {
		if tok := client.Publish(topic, 1, false, payload); !tok.WaitTimeout(10*time.Second) || tok.Error() != nil {
			t.Fatalf("publish to %s: not acknowledged (%v)", topic, tok.Error())
		}
	}
	said := does(t, "refused", "-c", cfg)
	contains(t, said, "Refused, the newest first: 1", "lentic/quillmere-library/atrium/ph", `"sour"`,
		"Topics nobody has claimed: 1", "lentic/quillmere-library/moat/ph", "Set aside for their time: 1", "2 records")
	remedy := regexp.MustCompile(`lentic (release --gateway \S+ --offset\S+)`).FindStringSubmatch(said)
	if remedy == nil {
		t.Fatalf("no remedy is shown:\n%s", said)
	}
	contains(t, does(t, append(strings.Fields(remedy[1]), "-c", cfg)...), "2 readings of gateway", "released, flagged retimed")
	contains(t, does(t, "refused", "-c", cfg), "Set aside for their time: 0")
	rows := does(t, "export", "-c", cfg, "--site", "quillmere-library", "--tank", "atrium", "--quality",
		"--from", time.Now().Add(-time.Hour).UTC().Format(time.RFC3339), "--to", time.Now().Add(time.Hour).UTC().Format(time.RFC3339))
	contains(t, rows, ",ph,6.61,retimed", ",water,24.5,retimed")
}

// provider answers each text and keeps what it was sent.
type provider struct {
	*httptest.Server
	mu     sync.Mutex // guards bodies and answer
	bodies []string
	answer string
}

func newProvider(t *testing.T, answer string) *provider {
	p := &provider{answer: answer}
	p.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var b bytes.Buffer
		b.ReadFrom(r.Body)
		p.mu.Lock()
		defer p.mu.Unlock()
		p.bodies = append(p.bodies, b.String())
		fmt.Fprint(w, p.answer)
	}))
	t.Cleanup(p.Close)
	return p
}

// TestProvenTexts: test-text is believed only where the provider's own words
// say so, whatever its status.
func TestProvenTexts(t *testing.T) {
	t.Parallel()
	for _, running := range []bool{true, false} {
		t.Run(map[bool]string{true: "running", false: "offline"}[running], func(t *testing.T) {
			t.Parallel()
			p := newProvider(t, `{"status":"queued","id":"m-17"}`)
			dir, web := t.TempDir(), freePort(t)
			text := keeperConfig(dir, web)
			text = strings.Replace(text, "{ id: keeper, name: Keeper, email: keeper@example.net }", `{ id: keeper, name: Keeper, phone: "+447700900101" }`, 1)
			text = strings.Replace(text, "{ id: mail, kind: smtp, host: 127.0.0.1, port: 9, from: watch@example.net }",
				fmt.Sprintf(`{ id: texts, kind: http, url: "%s/send", body: '{"to":{{json .To}},"text":{{json .Text}}}', accepted: { status: 200, pointer: /status, equals: queued } }`, p.URL), 1)
			text = strings.ReplaceAll(text, "by: mail", "by: texts")
			cfg := writeConfig(t, dir, text)
			if running {
				watching(t, cfg, web)
			}
			contains(t, does(t, "test-text", "-c", cfg, "--to", "keeper"), "Taken by the provider", "It is proven when keeper has read it")
			p.mu.Lock()
			if len(p.bodies) != 1 {
				t.Errorf("the provider got %d texts, want 1", len(p.bodies))
			} else {
				contains(t, p.bodies[0], "+447700900101")
			}
			p.answer = `{"status":"rejected","reason":"no credit left"}`
			p.mu.Unlock()
			contains(t, fails(t, 3, "test-text", "-c", cfg, "--to", "keeper"), "no credit left")
			p.Close()
			contains(t, fails(t, 3, "test-text", "-c", cfg, "--to", "keeper"), "refused")
		})
	}
}

// TestReloadNeedsADaemon: it says that none runs, and where it looked.
func TestReloadNeedsADaemon(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	cfg := writeConfig(t, dir, keeperConfig(dir, freePort(t)))
	contains(t, fails(t, 3, "reload", "-c", cfg), "no lentic is running", filepath.Join(dir, "data"))
}
