package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"syscall"
	"testing"
	"time"
)

// The tests of the whole boot the real program: the static binary, as a keeper
// would start it, on free loopback ports.

var (
	buildOnce sync.Once
	built     string
	buildErr  error
)

// binary builds lentic once per test run, without cgo as it is shipped.
func binary(t testing.TB) string {
	t.Helper()
	buildOnce.Do(func() {
		dir, err := os.MkdirTemp("", "lentic-binary-")
		if err != nil {
			buildErr = err
			return
		}
		built = filepath.Join(dir, "lentic")
		cmd := exec.Command("go", "build", "-trimpath", "-o", built, ".")
		cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
		if out, err := cmd.CombinedOutput(); err != nil {
			buildErr = fmt.Errorf("go build: %w\n%s", err, out)
		}
	})
	if buildErr != nil {
		t.Fatal(buildErr)
	}
	return built
}

func TestMain(m *testing.M) {
	code := m.Run()
	if built != "" {
		os.RemoveAll(filepath.Dir(built))
	}
	os.Exit(code)
}

// process is a running lentic.
type process struct {
	cmd    *exec.Cmd
	stderr *lockedBuffer
	done   chan struct{}
}

// lockedBuffer keeps what a process said, for the failure's sake.
type lockedBuffer struct {
	mu sync.Mutex // guards b
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

func start(t testing.TB, name string, args ...string) *process {
	t.Helper()
	p := &process{cmd: exec.Command(name, args...), stderr: &lockedBuffer{}, done: make(chan struct{})}
	p.cmd.Stderr = p.stderr
	p.cmd.Stdout = p.stderr
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() { p.cmd.Wait(); close(p.done) }()
	t.Cleanup(func() { p.kill() })
	return p
}

// kill is the power switch: SIGKILL, and the process is gone when it returns.
func (p *process) kill() {
	p.cmd.Process.Signal(syscall.SIGKILL)
	<-p.done
}

// stop asks politely and reports the exit status, -1 when it did not end.
func (p *process) stop(within time.Duration) int {
	p.cmd.Process.Signal(syscall.SIGTERM)
	select {
	case <-p.done:
		return p.cmd.ProcessState.ExitCode()
	case <-time.After(within):
		return -1
	}
}

// freePort is a loopback port nobody listens on now. It lies below the range
// that systems give to outgoing connections (32768 on Linux, 49152 by RFC
// 6335), so that none takes it while a killed program is away.
func freePort(t testing.TB) int {
	t.Helper()
	for range 100 {
		port := 20000 + rand.IntN(12000)
		l, err := net.Listen("tcp", fmt.Sprintf("127.0.0.1:%d", port))
		if err == nil {
			l.Close()
			return port
		}
	}
	t.Fatal("no free port on loopback")
	return 0
}

// patience is how long a test waits for what takes a moment: whether it comes
// at all is asked here, not how fast, and a machine may have other work.
const patience = 2 * time.Minute

// eventually polls until ok, or fails with what was awaited.
func eventually(t testing.TB, within time.Duration, what string, ok func() bool) {
	t.Helper()
	deadline := time.Now().Add(within)
	for !ok() {
		if time.Now().After(deadline) {
			t.Fatalf("%s: not within %s", what, within)
		}
		time.Sleep(20 * time.Millisecond)
	}
}

// healthy reports whether the daemon answers that it can do its whole job.
func healthy(web int) bool {
	ctx, cancel := context.WithTimeout(context.Background(), time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, fmt.Sprintf("http://127.0.0.1:%d/healthz", web), nil)
	if err != nil {
		return false
	}
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		return false
	}
	io.Copy(io.Discard, res.Body)
	res.Body.Close()
	return res.StatusCode == http.StatusOK
}

// lentic runs a command to its end and returns its output and exit status.
func lentic(t testing.TB, args ...string) (stdout string, stderr string, status int) {
	t.Helper()
	var out, errs bytes.Buffer
	cmd := exec.Command(binary(t), args...)
	cmd.Stdout, cmd.Stderr = &out, &errs
	err := cmd.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	return out.String(), errs.String(), cmd.ProcessState.ExitCode()
}

// writeConfig writes a configuration into dir and returns its path.
func writeConfig(t testing.TB, dir, text string) string {
	t.Helper()
	path := filepath.Join(dir, "lentic.yaml")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// onPath finds a program, in the system folders too; empty where it is not.
func onPath(name string) string {
	if p, err := exec.LookPath(name); err == nil {
		return p
	}
	for _, dir := range []string{"/usr/sbin", "/sbin"} {
		if p := filepath.Join(dir, name); isFile(p) {
			return p
		}
	}
	return ""
}

func isFile(path string) bool {
	i, err := os.Stat(path)
	return err == nil && i.Mode().IsRegular()
}

func decodeJSON(r io.Reader, v any) error { return json.NewDecoder(r).Decode(v) }
