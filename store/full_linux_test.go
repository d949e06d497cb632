package store_test

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"lentic/collector/aquarium"
	"lentic/store"
	"lentic/store/ledger"
)

// appendUntilFull, set to a path, makes the test binary a writer whose files
// may not grow beyond 1 MiB: the write fails for it as it would on a disk that
// breaks.
const appendUntilFull = "LENTIC_TEST_FULL"

func init() { children[appendUntilFull] = writeUntilFull }

func writeUntilFull(path string) {
	fail := func(v ...any) {
		fmt.Println(v...)
		os.Exit(1)
	}
	s, err := store.Open(path, store.Options{Reserve: -1})
	if err != nil {
		fail(err)
	}
	signal.Ignore(syscall.SIGXFSZ)
	limit := syscall.Rlimit{Cur: 1 << 20, Max: 1 << 20}
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit); err != nil {
		fail(err)
	}
	acknowledged := 0
	for ; err == nil; acknowledged++ {
		_, err = s.Append(killedBatch(acknowledged), nil)
	}
	acknowledged--
	if !errors.Is(err, store.ErrDisk) || errors.Is(err, store.ErrFull) {
		fail("the failed write is", err)
	}
	// Whatever comes next, nothing more may be written.
	if _, again := s.Append(aquarium.Batch{}, nil); !errors.Is(again, store.ErrDisk) {
		fail("the next append is", again)
	}
	if again := s.Update(func(tx ledger.Tx) error { return nil }); !errors.Is(again, store.ErrDisk) {
		fail("the next update is", again)
	}
	if s.Err() == nil {
		fail("the store does not remember")
	}
	// Reading goes on.
	if _, ok := s.Latest(key(0)); !ok {
		fail("nothing can be read")
	}
	fmt.Println("acknowledged", acknowledged)
	os.Exit(0)
}

func TestFailedWrite(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lentic.db")
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), appendUntilFull+"="+path)
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	var acknowledged int
	if _, err := fmt.Sscanf(string(out), "acknowledged %d", &acknowledged); err != nil || acknowledged == 0 {
		t.Fatalf("the writer said %q", out)
	}
	s := open(t, path)
	if got := countKilled(t, s); got != acknowledged {
		t.Errorf("got %d batches, %d were acknowledged", got, acknowledged)
	}
	if err := s.Check(); err != nil {
		t.Error(err)
	}
}

// TestFullDisk fills a small file system of its own, which only root can make.
func TestFullDisk(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("only root can mount a file system of 96 MiB to fill")
	}
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=96m"); err != nil {
		t.Skipf("no file system can be mounted here: %v", err)
	}
	t.Cleanup(func() { syscall.Unmount(dir, syscall.MNT_DETACH) })
	path := filepath.Join(dir, "lentic.db")
	s := open(t, path)
	if _, err := s.Append(killedBatch(0), nil); err != nil {
		t.Fatal(err)
	}
	reserve := path + ".reserve"
	if info, err := os.Stat(reserve); err != nil || info.Size() != 32<<20 {
		t.Fatalf("reserve: %v, %v; want 32 MiB", info, err)
	}
	leave := func(free int64) {
		t.Helper()
		f := filepath.Join(dir, "somebody-else")
		os.Remove(f)
		have, _, err := s.FreeSpace()
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(f, make([]byte, int64(have)-free), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	leave(10 << 20)
	_, err := s.Append(killedBatch(1), nil)
	if !errors.Is(err, store.ErrFull) || !errors.Is(err, store.ErrDisk) || !strings.Contains(err.Error(), "free some space") {
		t.Errorf("append on a full disk: got %v, want ErrFull with a remedy", err)
	}
	alarm := func(n int) error {
		return s.Update(func(tx ledger.Tx) error { return tx.Put("alarms", fmt.Sprint(n), bytes.Repeat([]byte{'a'}, 1<<20)) })
	}
	if err := alarm(1); err != nil {
		t.Errorf("an alarm about it: %v", err)
	}
	leave(1 << 20)
	for n := range 10 {
		if err := alarm(n); err != nil {
			t.Errorf("alarm %d from the reserve: %v", n, err)
		}
	}
	if _, err := os.Stat(reserve); !os.IsNotExist(err) {
		t.Errorf("the reserve is still there (%v)", err)
	}
	os.Remove(filepath.Join(dir, "somebody-else"))
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = open(t, path)
	if _, err := s.Append(killedBatch(1), nil); err != nil {
		t.Errorf("with room again: %v", err)
	}
	if got := countKilled(t, s); got != 2 {
		t.Errorf("got %d batches, want 2", got)
	}
}

func TestSpaceLow(t *testing.T) {
	for _, c := range []struct {
		name        string
		free, total uint64
		want        bool
	}{
		{"plenty", 50 << 30, 100 << 30, false},
		{"a tenth", 10 << 30, 100 << 30, false},
		{"less than a tenth", 9 << 30, 100 << 30, true},
		{"less than a gibibyte", 1<<30 - 1, 2 << 30, true},
		{"not known", 0, 0, false},
	} {
		if got := store.SpaceLow(c.free, c.total); got != c.want {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
	}
	free, total, err := open(t, filepath.Join(t.TempDir(), "lentic.db")).FreeSpace()
	if err != nil || free > total {
		t.Errorf("got %d of %d, %v", free, total, err)
	}
}
