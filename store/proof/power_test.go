package proof

import (
	"bufio"
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// event is a system call of the child's that changes a file, or makes what was
// changed durable.
type event struct {
	kind string // write, truncate, sync, ack
	at   int64
	data []byte
	size int64 // of truncate
	n    int   // of ack
}

var (
	callPattern = regexp.MustCompile(`^(?:\d+ +)?(\w+)\((\d+)<([^>]*)>(?:, (.*)|\).*)$`)
	hexString   = regexp.MustCompile(`^"((?:\\x[0-9a-f]{2})*)"(\.\.\.)?, (.*)$`)
)

// record has a child do the work under strace and lists what it did to the
// database, in order.
func record(t *testing.T, dir string, steps int) []event {
	t.Helper()
	if _, err := exec.LookPath("strace"); err != nil {
		t.Skip("strace is missing: apt-get install strace")
	}
	log := filepath.Join(t.TempDir(), "strace")
	cmd := exec.Command("strace", "-f", "-y", "-xx", "-s", "16777216", "-o", log,
		"-e", "trace=write,pwrite64,ftruncate,fallocate,fdatasync,fsync", os.Args[0])
	cmd.Env = append(os.Environ(), childDir+"="+dir, childSteps+"="+strconv.Itoa(steps))
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("work under strace: %v: %s", err, out)
	}
	f, err := os.Open(log)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var events []event
	unfinished := map[string]string{} // by thread: the call that is under way
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, 128<<20)
	for lines.Scan() {
		line := lines.Text()
		thread, _, _ := strings.Cut(line, " ")
		if head, ok := strings.CutSuffix(line, " <unfinished ...>"); ok {
			unfinished[thread] = head
			continue
		}
		if strings.Contains(line, "resumed>") {
			_, tail, _ := strings.Cut(line, "resumed>")
			line = unfinished[thread] + tail
			delete(unfinished, thread)
		}
		if e, ok := parseCall(t, line); ok {
			events = append(events, e)
		}
	}
	if err := lines.Err(); err != nil {
		t.Fatal(err)
	}
	return events
}

func parseCall(t *testing.T, line string) (event, bool) {
	t.Helper()
	m := callPattern.FindStringSubmatch(line)
	if m == nil {
		return event{}, false
	}
	call, path, args := m[1], unhex(m[3]), m[4]
	switch base := filepath.Base(path); {
	case base == "acks" && call == "write":
		data, _ := bytesOf(t, args)
		n, err := strconv.Atoi(strings.TrimSpace(strings.TrimPrefix(string(data), "ack ")))
		if err != nil {
			t.Fatalf("acknowledgement %q", data)
		}
		return event{kind: "ack", n: n}, true
	case base != "lentic.db":
		return event{}, false
	}
	switch call {
	case "pwrite64":
		data, rest := bytesOf(t, args)
		parts := strings.SplitN(rest, ", ", 2)
		at, err := strconv.ParseInt(strings.SplitN(parts[1], ")", 2)[0], 10, 64)
		if err != nil {
			t.Fatalf("offset in %.200q", rest)
		}
		return event{kind: "write", at: at, data: data}, true
	case "ftruncate":
		size, err := strconv.ParseInt(strings.SplitN(args, ")", 2)[0], 10, 64)
		if err != nil {
			t.Fatalf("size in %q", args)
		}
		return event{kind: "truncate", size: size}, true
	case "fdatasync", "fsync":
		return event{kind: "sync"}, true
	}
	t.Fatalf("a call the replay does not know: %.100s", line)
	return event{}, false
}

func unhex(s string) string {
	if !strings.HasPrefix(s, `\x`) {
		return s
	}
	var b []byte
	for _, h := range strings.Split(s[2:], `\x`) {
		c, _ := strconv.ParseUint(h, 16, 8)
		b = append(b, byte(c))
	}
	return string(b)
}

func bytesOf(t *testing.T, args string) (data []byte, rest string) {
	t.Helper()
	m := hexString.FindStringSubmatch(args)
	if m == nil || m[2] != "" {
		t.Fatalf("data in %.100q", args)
	}
	return []byte(unhex(m[1])), m[3]
}

// image is a file as a disk may have it.
type image struct{ b []byte }

func (i *image) write(at int64, data []byte) {
	if need := int(at) + len(data); need > len(i.b) {
		i.b = append(i.b, make([]byte, need-len(i.b))...)
	}
	copy(i.b[at:], data)
}

func (i *image) truncate(size int64) {
	if int(size) <= len(i.b) {
		i.b = i.b[:size]
		return
	}
	i.b = append(i.b, make([]byte, int(size)-len(i.b))...)
}

func (i *image) apply(e event) {
	switch e.kind {
	case "write":
		i.write(e.at, e.data)
	case "truncate":
		i.truncate(e.size)
	}
}

const sector = 512

// fates of what was written and not yet synced when the power went.
var fates = []struct {
	name  string
	apply func(i *image, unsynced []event, rnd *rand.Rand)
}{
	{"dropped", func(*image, []event, *rand.Rand) {}},
	{"kept", func(i *image, es []event, _ *rand.Rand) {
		for _, e := range es {
			i.apply(e)
		}
	}},
	{"reordered", func(i *image, es []event, rnd *rand.Rand) { // any of them, whatever came first
		for _, e := range es {
			if rnd.IntN(2) == 0 {
				i.apply(e)
			}
		}
	}},
	{"all but one", func(i *image, es []event, rnd *rand.Rand) {
		for n, e := range es {
			if n != rnd.IntN(len(es)) {
				i.apply(e)
			}
		}
	}},
	{"torn", func(i *image, es []event, rnd *rand.Rand) { // by sectors, in any order
		for _, e := range es {
			if e.kind != "write" {
				i.apply(e)
				continue
			}
			for at := 0; at < len(e.data); at += sector {
				if rnd.IntN(2) == 0 {
					i.write(e.at+int64(at), e.data[at:min(at+sector, len(e.data))])
				}
			}
		}
	}},
}

// TestPowerLoss cuts the power at every point of a piece of work, and opens
// what the disk may then have: what was acknowledged is there, and nothing that
// nobody wrote.
func TestPowerLoss(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "lentic.db")
	steps := scaled(40, 400)
	s, err := openNew(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	events := record(t, dir, steps)
	ts := tasks(steps)
	durable := &image{bytes.Clone(before)}
	var unsynced []event
	acked, syncs, cuts, opened := 0, 0, 0, 0
	rnd := rand.New(rand.NewPCG(2, 2))
	scratch := filepath.Join(quickDir(t), "lentic.db")
	for n, e := range events {
		switch e.kind {
		case "ack":
			if e.n != acked {
				t.Fatalf("step %d is acknowledged after %d", e.n, acked-1)
			}
			acked++
			if len(unsynced) > 0 && ts[e.n].kind != "tidy" && ts[e.n].kind != "seal" {
				t.Errorf("step %d is acknowledged with %d writes not synced", e.n, len(unsynced))
			}
		case "sync":
			syncs++
			for _, u := range unsynced {
				durable.apply(u)
			}
			unsynced = nil
		default:
			unsynced = append(unsynced, e)
		}
		cuts++
		for _, fate := range fates {
			if len(unsynced) == 0 && fate.name != "dropped" {
				continue
			}
			disk := &image{bytes.Clone(durable.b)}
			fate.apply(disk, unsynced, rnd)
			if err := os.WriteFile(scratch, disk.b, 0o600); err != nil {
				t.Fatal(err)
			}
			opened++
			if err := verify(scratch, ts, acked); err != nil {
				t.Fatalf("power cut after event %d of %d (%s), %d steps acknowledged, %d writes not synced and %s: %v", n, len(events), e.kind, acked, len(unsynced), fate.name, err)
			}
		}
	}
	if acked != steps || syncs < acked {
		t.Errorf("%d of %d steps acknowledged with %d syncs: the recording is not whole", acked, steps, syncs)
	}
	t.Logf("%d steps, %d events, %d syncs: power cut at %d points, %d disks opened, nothing lost", steps, len(events), syncs, cuts, opened)
}

// TestReplayIsHonest: the same proof finds a disk that lies about its syncs.
func TestReplayIsHonest(t *testing.T) {
	dir := t.TempDir()
	s, err := openNew(filepath.Join(dir, "lentic.db"))
	if err != nil {
		t.Fatal(err)
	}
	s.Close()
	before, err := os.ReadFile(filepath.Join(dir, "lentic.db"))
	if err != nil {
		t.Fatal(err)
	}
	events := record(t, dir, 12)
	scratch := filepath.Join(t.TempDir(), "lentic.db")
	acked := 0
	for _, e := range events {
		if e.kind == "ack" {
			acked++
		}
	}
	if err := os.WriteFile(scratch, before, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := verify(scratch, tasks(12), acked); err == nil || !strings.Contains(fmt.Sprint(err), "missing") {
		t.Errorf("a disk that kept nothing: got %v, want readings missing", err)
	}
}
