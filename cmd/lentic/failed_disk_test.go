package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// `make test` lets the disk fail a few times; -fault.each=40 does so at forty
// places for each kind of fault.
var faultEach = flag.Int("fault.each", 1, "at how many calls the disk fails under lentic, for each kind of fault")

// TestFailedDisk: a write or sync of the real program fails while readings come
// in, and so does every later one. It ends with 74, having acknowledged nothing
// that is not on disk.
func TestFailedDisk(t *testing.T) {
	strace := onPath("strace")
	if strace == "" {
		t.Skip("strace is not installed: the disk was not made to fail")
	}
	for _, call := range []string{"fdatasync", "pwrite64"} {
		for _, errno := range []string{"EIO", "ENOSPC"} {
			t.Run(call+" "+errno, func(t *testing.T) {
				t.Parallel()
				acked := 0
				for i := range *faultEach {
					// strace counts the calls of each thread.
					acked += failDisk(t, strace, fmt.Sprintf("inject=%s:error=%s:when=%d+", call, errno, 20+13*i))
				}
				t.Logf("%d times, %d acknowledged: all there, exit status 74", *faultEach, acked)
				if acked == 0 {
					t.Error("nothing was acknowledged before the disk failed: nothing was tried")
				}
			})
		}
	}
}

// failDisk runs lentic until its disk fails, and gives how many readings it had
// acknowledged, after looking for them.
func failDisk(t *testing.T, strace, fault string) int {
	t.Helper()
	dir, web, port := t.TempDir(), freePort(t), freePort(t)
	cfg := writeConfig(t, dir, crashConfig(dir, web, fmt.Sprintf("listen: { web: \"127.0.0.1:%d\", mqtt: \"127.0.0.1:%d\" }", web, port)))
	traced := strings.TrimPrefix(strings.SplitN(fault, ":", 2)[0], "inject=")
	p := start(t, strace, "-f", "-qq", "-o", "/dev/null", "-e", "signal=none", "-e", "trace="+traced, "-e", fault, binary(t), "run", "-c", cfg)
	t.Cleanup(func() { killChildren(p.cmd.Process.Pid) })
	ended := func() bool {
		select {
		case <-p.done:
			return true
		default:
			return false
		}
	}
	eventually(t, patience, "first start", func() bool { return ended() || healthy(web) })
	client := mqtt.NewClient(mqtt.NewClientOptions().
		AddBroker(fmt.Sprintf("tcp://127.0.0.1:%d", port)).SetClientID("fault-test").SetAutoReconnect(false).SetConnectTimeout(5 * time.Second))
	base := time.Now().Add(-8 * time.Minute).UnixMilli()
	var acked atomic.Int64
	if tok := client.Connect(); tok.WaitTimeout(10*time.Second) && tok.Error() == nil {
		for i := 0; !ended() && client.IsConnected(); i++ {
			payload := fmt.Sprintf(`[{"bt":%.3f,"v":%d}]`, float64(base+int64(i/crashSensors))/1000, i)
			tok := client.Publish(fmt.Sprintf("lentic/quillmere-library/atrium/n%d", i%crashSensors), 1, false, payload)
			if !tok.WaitTimeout(10*time.Second) || tok.Error() != nil {
				break
			}
			acked.Add(1)
		}
		client.Disconnect(50)
	}
	select {
	case <-p.done:
	case <-time.After(30 * time.Second):
		t.Fatalf("%s: lentic goes on after its disk failed, %d acknowledged:\n%s", fault, acked.Load(), p.stderr)
	}
	if got := p.cmd.ProcessState.ExitCode(); got != 74 {
		t.Errorf("%s: exit status %d, want 74, after %d acknowledged:\n%s", fault, got, acked.Load(), p.stderr)
	}
	if acked.Load() == 0 {
		return 0
	}
	rows := stored(t, cfg, base).rows
	for i := range int(acked.Load()) {
		key := fmt.Sprintf("n%d %d", i%crashSensors, base+int64(i/crashSensors))
		if v, ok := rows[key]; !ok || v != strconv.Itoa(i) {
			t.Fatalf("%s: reading %d of %d acknowledged is %q, there %t", fault, i, acked.Load(), v, ok)
		}
	}
	return int(acked.Load())
}

// killChildren ends what a process has started and left behind.
func killChildren(pid int) {
	b, err := os.ReadFile(filepath.Join("/proc", strconv.Itoa(pid), "task", strconv.Itoa(pid), "children"))
	if err != nil {
		return
	}
	for _, f := range strings.Fields(string(b)) {
		if child, err := strconv.Atoi(f); err == nil {
			syscall.Kill(child, syscall.SIGKILL)
		}
	}
}
