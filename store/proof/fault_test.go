package proof

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// TestNthFault lets the n-th system call of a kind fail, for every n: the work
// stops there, acknowledges nothing after it, and what it had acknowledged is
// in the file.
func TestNthFault(t *testing.T) {
	if _, err := exec.LookPath("strace"); err != nil {
		t.Skip("strace is missing: apt-get install strace")
	}
	steps := scaled(25, 60)
	ts := tasks(steps)
	for _, call := range []string{"pwrite64", "fdatasync", "ftruncate"} {
		for _, fault := range []string{"EIO", "ENOSPC", "EINTR"} {
			t.Run(call+" "+fault, func(t *testing.T) {
				failed, ran := 0, 0
				for n := 1; ; n++ {
					acked, exit := faulty(t, call, fault, n, steps, ts)
					ran++
					if t.Failed() {
						return
					}
					if exit == 0 && acked == steps {
						if fault != "EINTR" || n > 40 {
							break
						}
						continue // Go takes an interrupted write up again by itself
					}
					failed++
				}
				t.Logf("%d runs, %d of them failed as they should, nothing acknowledged was lost", ran, failed)
				if failed == 0 && fault != "EINTR" {
					t.Error("no fault was met")
				}
			})
		}
	}
}

// TestShortWrites lets the file grow to a limit only, at which a write is cut
// short by the kernel itself.
func TestShortWrites(t *testing.T) {
	const steps = 60
	ts := tasks(steps)
	failed := 0
	limits := scaled(40, 400)
	for i := range limits {
		limit := 32<<10 + i*(512<<10)/limits + 513*i%4096
		acked, exit := work(t, fmt.Sprintf("no more than %d bytes", limit), steps, ts, nil, childLimit+"="+strconv.Itoa(limit))
		if exit != 0 {
			failed++
		} else if acked != steps {
			t.Errorf("%d bytes: %d of %d steps without an error", limit, acked, steps)
		}
	}
	t.Logf("%d limits, %d of them were met, nothing acknowledged was lost", limits, failed)
	if failed == 0 {
		t.Error("no limit was met")
	}
}

// faulty does the work with the n-th call failing, and reads what is there.
func faulty(t *testing.T, call, fault string, n, steps int, ts []task) (acked, exit int) {
	t.Helper()
	return work(t, fmt.Sprintf("%s number %d fails with %s", call, n, fault), steps, ts, []string{
		"strace", "-f", "-o", "/dev/null", "-e", "trace=" + call, "-e", fmt.Sprintf("inject=%s:error=%s:when=%d", call, fault, n),
	})
}

// work has a child do the work, under a program and with settings that spoil
// it, and reads what is there afterwards.
func work(t *testing.T, what string, steps int, ts []task, under []string, env ...string) (acked, exit int) {
	t.Helper()
	dir := quickDir(t)
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "lentic.db")
	s, err := openNew(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	args := append(under, os.Args[0])
	cmd := exec.Command(args[0], args[1:]...)
	cmd.Env = append(append(os.Environ(), childDir+"="+dir, childSteps+"="+strconv.Itoa(steps)), env...)
	var said strings.Builder
	cmd.Stderr = &said
	done := make(chan error, 1)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() { done <- cmd.Wait() }()
	select {
	case err = <-done:
	case <-time.After(patience):
		cmd.Process.Kill()
		t.Fatalf("%s: the work neither ends nor fails within %s", what, patience)
	}
	var ended *exec.ExitError
	if errors.As(err, &ended) {
		exit = ended.ExitCode()
	} else if err != nil {
		t.Fatal(err)
	}
	if exit != 0 && exit != childFailed {
		t.Errorf("%s: ended with %d: %s", what, exit, said.String())
	}
	acks, err := os.ReadFile(filepath.Join(dir, "acks"))
	if err != nil && exit == 0 {
		t.Fatal(err)
	}
	acked = strings.Count(string(acks), "\n")
	if err := verify(path, ts, acked); err != nil {
		t.Errorf("%s: ended with %d after %d steps (%s): %v", what, exit, acked, strings.TrimSpace(said.String()), err)
	}
	return acked, exit
}
