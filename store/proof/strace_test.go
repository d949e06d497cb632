package proof

import (
	"bufio"
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// event is one system call of a child that has ended, or a line it said.
type event struct {
	thread string // strace counts the calls of each for itself
	call   string
	args   []string
	data   []byte // of a write
	ret    int64
	errno  string // EIO ...; empty: it went well
	forced bool   // the fault was injected
}

// calls are those that can change a file, or what of it is kept.
const calls = "openat,pwrite64,write,ftruncate,fallocate,rename,renameat,renameat2,link,linkat,unlink,unlinkat,mkdir,mkdirat,fdatasync,fsync,close,copy_file_range,sendfile"

// recording is the life of a child.
type recording struct {
	events []event
	status int
	said   string
	dir    string
}

func straced(t testing.TB) string {
	t.Helper()
	p, err := exec.LookPath("strace")
	if err != nil {
		t.Skip("strace is missing (Debian: apt-get install strace): this proof was not made")
	}
	return p
}

// record runs a child under strace; fault is what -e inject takes, or empty.
func (o order) record(t testing.TB, fault string) recording {
	t.Helper()
	return watch(t, childOf+"="+o.String(), fault)
}

func watch(t testing.TB, child, fault string) recording {
	t.Helper()
	trace := filepath.Join(t.TempDir(), "trace")
	args := []string{"-f", "-qq", "-xx", "-s", "16777216", "--seccomp-bpf", "-e", "signal=none", "-e", "trace=" + calls, "-o", trace}
	if fault != "" {
		args = append(args, "-e", "inject="+fault)
	}
	cmd := exec.Command(straced(t), append(args, os.Args[0])...)
	cmd.Env = append(os.Environ(), child)
	var said, complaints bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &complaints
	err := cmd.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	r := recording{status: cmd.ProcessState.ExitCode(), said: said.String()}
	if complaints.Len() > 0 {
		t.Fatalf("the child said:\n%.3000s", complaints.String())
	}
	f, err := os.Open(trace)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	defer os.Remove(trace)
	if r.events, err = parseTrace(f); err != nil {
		t.Fatal(err)
	}
	return r
}

// parseTrace reads strace's output. A call that another thread interrupted
// counts where it ended.
func parseTrace(f *os.File) (es []event, err error) {
	unfinished := map[string]string{} // by thread
	in := bufio.NewReaderSize(f, 1<<20)
	for {
		line, err := in.ReadString('\n')
		if line == "" && err != nil {
			return es, nil
		}
		thread, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
		rest = strings.TrimSpace(rest)
		if begun, ok := strings.CutSuffix(rest, " <unfinished ...>"); ok {
			unfinished[thread] = begun
			continue
		}
		if strings.HasPrefix(rest, "<... ") {
			_, end, _ := strings.Cut(rest, " resumed>")
			rest = unfinished[thread] + end
		}
		if strings.HasPrefix(rest, "+++") || strings.HasPrefix(rest, "---") || strings.HasSuffix(rest, "<detached ...>") {
			continue // a thread that the end of the process met
		}
		e, err := parseCall(rest)
		if err != nil {
			return nil, err
		}
		e.thread = thread
		es = append(es, e)
	}
}

var result = regexp.MustCompile(`\)\s+= (-?\d+|\?)(?: ([A-Z]+) [^)]*\))?( \(INJECTED\))?$`)

func parseCall(s string) (e event, err error) {
	name, rest, ok := strings.Cut(s, "(")
	m := result.FindStringSubmatchIndex(rest)
	if !ok || m == nil {
		return e, fmt.Errorf("strace wrote %.200q", s)
	}
	part := func(i int) string {
		if m[2*i] < 0 {
			return ""
		}
		return rest[m[2*i]:m[2*i+1]]
	}
	e.call, e.errno, e.forced = name, part(2), part(3) != ""
	e.ret, _ = strconv.ParseInt(part(1), 10, 64)
	for _, a := range strings.Split(rest[:m[0]], ", ") {
		if q, ok := strings.CutPrefix(a, `"`); ok {
			b, err := hex.DecodeString(strings.ReplaceAll(strings.TrimSuffix(q, `"`), `\x`, ""))
			if err != nil {
				return e, fmt.Errorf("strace wrote %.200q: %w", s, err)
			}
			if e.data = b; !strings.Contains(e.call, "write") {
				a = string(b)
			}
		}
		e.args = append(e.args, a)
	}
	return e, nil
}

// number is the i-th argument as a number.
func (e *event) number(i int) int64 {
	n, _ := strconv.ParseInt(e.args[i], 10, 64)
	return n
}

// said is the line that the child wrote for the test, if the event is one.
func (e *event) said() (line string, ok bool) {
	if e.call != "write" || e.args[0] != "1" {
		return "", false
	}
	return strings.TrimSpace(string(e.data)), true
}

// deedOf takes the number out of a line as "done 7".
func deedOf(line, word string) (n int, ok bool) {
	rest, ok := strings.CutPrefix(line, word+" ")
	if !ok {
		return 0, false
	}
	first, _, _ := strings.Cut(rest, " ")
	n, err := strconv.Atoi(first)
	return n, err == nil
}

// acknowledged is how many deeds the child had done after its last word.
func (r *recording) acknowledged(from int) int {
	n := from
	for i := range r.events {
		if line, ok := r.events[i].said(); ok {
			if d, ok := deedOf(line, "done"); ok {
				n = d + 1
			}
		}
	}
	return n
}
