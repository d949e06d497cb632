package proof

import (
	"fmt"
	"os"
	"path/filepath"
	"sync/atomic"
	"syscall"
	"testing"
)

// TestShortWrites: the kernel itself cuts a write short, at a limit of the
// file's length that lies anywhere in it: in its first two pages, within a
// page, within a sector. What had been acknowledged is there.
func TestShortWrites(t *testing.T) {
	c := courseNamed("mixed")
	const from, until = 40, 70
	file := c.after(t, from)
	y := newStories(t, c)
	n := scaled(40, 2000)
	ended, short := 0, 0
	for i := range n {
		limit := 512 + i*(len(file)+64<<10)/n + i%511
		if i%4 == 0 {
			limit = 20 + i*(3<<12)/n // the pages that say which of all others count
		}
		dir := quickDir(t)
		path := filepath.Join(dir, "lentic.db")
		if err := os.WriteFile(path, file, 0o600); err != nil {
			t.Fatal(err)
		}
		o := order{course: c.name, path: path, from: from, until: until, limit: limit}
		r := o.record(t, "")
		short += r.short()
		if r.status == 74 {
			ended++
		} else if r.status != 0 {
			t.Errorf("no more than %d bytes: the child ended with %d, its last words %q", limit, r.status, lastLines(r.said, 3))
		}
		d := newDisk()
		d.hold(path, file)
		for _, err := range y.aftermath(&r, d, dir, from) {
			t.Errorf("no more than %d bytes: %v", limit, err)
		}
		os.RemoveAll(dir)
	}
	t.Logf("%d limits: %d ended the process, %d writes were cut short; acknowledged and lost 0", n, ended, short)
	if ended == 0 || short == 0 {
		t.Errorf("of %d limits %d ended the process, %d writes were cut short: want some of both", n, ended, short)
	}
}

// after is the file of a store that has done so many deeds.
func (c course) after(t testing.TB, deeds int) []byte {
	t.Helper()
	path := filepath.Join(quickDir(t), "lentic.db")
	var now atomic.Int64
	s, err := c.open(path, &now)
	if err != nil {
		t.Fatal(err)
	}
	for n := range deeds {
		now.Store(int64(n))
		if err := c.deed(n).do(s); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return file
}

// short counts the writes that wrote less than they were to.
func (r *recording) short() (n int) {
	for i := range r.events {
		if e := &r.events[i]; e.call == "pwrite64" && e.ret > 0 && int(e.ret) < len(e.data) {
			n++
		}
	}
	return n
}

// TestFullFileSystem: a small file system of its own runs full under documents
// and readings, at every amount of room. Only root can mount one.
func TestFullFileSystem(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("only root can mount a file system to fill: this proof was not made")
	}
	c := courseNamed("documents")
	y := newStories(t, c)
	n := scaled(12, 400)
	ended, short := 0, 0
	for i := range n {
		dir := t.TempDir()
		room := 192<<10 + i*(1<<20)/n/4096*4096
		if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, fmt.Sprintf("size=%d", room)); err != nil {
			t.Skipf("no file system can be mounted here: %v: this proof was not made", err)
		}
		t.Cleanup(func() { syscall.Unmount(dir, syscall.MNT_DETACH) })
		o := order{course: c.name, path: filepath.Join(dir, "lentic.db"), until: 60}
		r := o.record(t, "")
		short += r.short()
		if r.status != 74 {
			t.Errorf("%d bytes: the child ended with %d, its last words %q", room, r.status, lastLines(r.said, 3))
		} else {
			ended++
		}
		acked := r.acknowledged(0)
		if err := y.about(acked).reopen(o.path, acked, 0); err != nil {
			t.Errorf("%d bytes, %d deeds acknowledged: %v", room, acked, err)
		}
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d file systems ran full: %d ended the process, %d writes were cut short; acknowledged and lost 0", n, ended, short)
}
